package turn

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
	"unicode/utf8"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A desk is where a person sits: keys to type on, a screen to read.
type desk struct {
	*Person
	keys   *io.PipeWriter
	screen screen
}

type screen struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

// read gives what was printed since it was read last.
func (s *screen) read() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	defer s.text.Reset()
	return s.text.String()
}

// plans gives the plan of these tests.
func plans(remind, patience time.Duration) plan.Plan {
	return plan.Plan{
		Antennas: []survey.Antenna{{Name: "loop", Kind: survey.KindLoop}, {Name: "dipole", Kind: survey.KindDipole},
			{Name: "tuned loop", Kind: survey.KindLoop, TunedLow: 9.4e6, TunedHigh: 9.9e6}},
		Change: plan.Change{Remind: remind, Patience: patience},
	}
}

// atDesk runs a test in time that passes at once, and fails where a goroutine is
// left once the keyboard is gone.
func atDesk(t *testing.T, test func(t *testing.T, d *desk)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		in, keys := io.Pipe()
		d := &desk{Person: &Person{In: in, Plan: plans(time.Minute, 10*time.Minute), Cautions: "Never work on a mast alone."}, keys: keys}
		d.Out = &d.screen
		test(t, d)
		keys.Close()
	})
}

func (d *desk) types(t *testing.T, text string) {
	t.Helper()
	if _, err := io.WriteString(d.keys, text); err != nil {
		t.Fatal(err)
	}
	time.Sleep(200 * time.Millisecond) // over the moment until a question is put again
	synctest.Wait()
}

// An answer is what a change came to.
type answer struct {
	reached capture.Reached
	err     error
}

// asks begins a change and comes back when the question is put, or the change is
// done without.
func (d *desk) asks(t *testing.T, asked survey.Setup) <-chan answer {
	done := make(chan answer, 1)
	go func() {
		reached, err := d.Change(t.Context(), asked)
		done <- answer{reached, err}
	}()
	time.Sleep(200 * time.Millisecond) // over the moment in which it looks what was typed already
	synctest.Wait()
	return done
}

// confirms lets a setup be asked for and answers with Enter where it is.
func (d *desk) confirms(t *testing.T, asked survey.Setup) {
	t.Helper()
	done := d.asks(t, asked)
	if len(done) == 0 {
		d.types(t, "\n")
	}
	if got := outcome(t, done); got.err != nil || got.reached.Setup != asked {
		t.Fatalf("%v: %+v", asked, got)
	}
}

// outcome gives the answer that is there by now.
func outcome(t *testing.T, done <-chan answer) answer {
	t.Helper()
	select {
	case got := <-done:
		return got
	default:
		t.Fatal("still waiting")
		return answer{}
	}
}

func setup(antenna, placement string, deg ...float64) survey.Setup {
	s := survey.Setup{Antenna: antenna, Placement: placement}
	for _, d := range deg {
		s.Bearing = survey.BearingOf(d)
	}
	return s
}

// The session names each setup that is asked for; what stands under it was
// printed.
const session = `
> whip@study

Thunder about? Touch no lead, turn nothing by hand; s leaves the visit out, ?
shows the cautions.
whip@study: Connect the whip in the study, and press Enter.
(Or s to leave this visit out; ? for cautions.)

> whip@study
> loop@study:70

loop@study:70: Connect the loop in the study, turn its plane to 070°, and press
Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> loop@study:100

loop@study:100: Turn the loop's plane to 100°, and press Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> loop@loft:100

loop@loft:100: Carry the loop to the loft, turn its plane to 100°, and press
Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> dipole@the garden:7.5

dipole@the garden:7.5: Connect the dipole in the garden, point it (broadside)
to 007.5°, and press Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> dipole@the garden:90

dipole@the garden:90: Point the dipole (broadside) to 090°, and press Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> terminator@the garden

terminator@the garden: Connect the terminator in the antenna's place at the far
end of the feed line in the garden, and press Enter.
(Or s to leave this visit out; ? for cautions.)

> tuned loop@loft:70

tuned loop@loft:70: Connect the tuned loop in the loft, turn its plane to 070°,
peak it for 9.4–9.9 MHz, then leave it, and press Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> whip@loft

whip@loft: Connect the whip in the loft, and press Enter.
(Or s to leave this visit out; ? for cautions.)

> tuned loop@loft:70

tuned loop@loft:70: Connect the tuned loop in the loft, turn its plane to 070°,
leave its tuning as it is, and press Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)

> tuned loop@study:70

tuned loop@study:70: Carry the tuned loop to the study, turn its plane to 070°,
peak it for 9.4–9.9 MHz, then leave it, and press Enter.
(Or type the bearing it stands at if it is another; s to leave this visit out;
? for cautions.)
`

func TestPersonSaysWhatIsToBeChanged(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		var got strings.Builder
		for _, asked := range []survey.Setup{
			setup("whip", "study"), setup("whip", "study"),
			setup("loop", "study", 70), setup("loop", "study", 100), setup("loop", "loft", 100),
			setup("dipole", "the garden", 7.5), setup("dipole", "the garden", 90), setup("terminator", "the garden"),
			setup("tuned loop", "loft", 70), setup("whip", "loft"), setup("tuned loop", "loft", 70), setup("tuned loop", "study", 70),
		} {
			d.confirms(t, asked)
			got.WriteString("> " + asked.String() + "\n" + d.screen.read())
		}
		// Blank lines before a name of the session are there for the eye.
		want := strings.TrimSpace(strings.ReplaceAll(session, "\n\n> ", "\n> "))
		if strings.TrimSpace(got.String()) != want {
			t.Errorf("it said\n%s\nand should have said\n%s", got.String(), want)
		}
		for line := range strings.Lines(got.String()) {
			if n := utf8.RuneCountInString(strings.TrimSpace(line)); n >= 80 {
				t.Errorf("%d columns: %s", n, line)
			}
		}
	})
}

// Magnetic north 3.2° east of true north: the compass shows 3.2° less, over 0 as
// well.
func TestPersonTellsTheCompass(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		east := 3.2
		d.Plan.Declination = &east
		d.confirms(t, setup("loop", "loft", 70))
		d.screen.read()
		d.confirms(t, setup("loop", "loft", 1))
		const want = `
loop@loft:1: Turn the loop's plane to 001° true, 358° by the compass, and press
Enter.
(Or type the true bearing it stands at if it is another; s to leave this visit
out; ? for cautions.)
`
		if got := d.screen.read(); got != want {
			t.Errorf("it said %s", got)
		}
	})
}

func TestPersonAnswers(t *testing.T) {
	loop70, beam70 := setup("loop", "loft", 70), setup("beam", "loft", 70)
	bearing := survey.BearingOf
	for _, test := range []struct {
		asked   survey.Setup
		typed   string
		reached survey.Setup // zero: it was asked again
		bearing survey.Bearing
		said    string
	}{
		{asked: loop70, typed: "", reached: loop70},
		{asked: loop70, typed: " \t", reached: loop70},
		{asked: loop70, typed: "070", reached: loop70, bearing: bearing(70)},
		{asked: loop70, typed: "72.5°", reached: loop70, bearing: bearing(72.5)},
		{asked: loop70, typed: "73", reached: loop70, bearing: bearing(73)},
		{asked: loop70, typed: "248 °", reached: loop70, bearing: bearing(68)}, // a loop's plane has two ends
		{asked: loop70, typed: "280", reached: setup("loop", "loft", 100), bearing: bearing(100), said: "asked for 070°, stands at 100°"},
		{asked: loop70, typed: "73.5", reached: setup("loop", "loft", 73.5), bearing: bearing(73.5), said: "asked for 070°, stands at 073.5°"},
		{asked: beam70, typed: "250", reached: setup("beam", "loft", 250), bearing: bearing(250), said: "asked for 070°, stands at 250°"},
		{asked: setup("beam", "loft", 359), typed: "1", reached: setup("beam", "loft", 359), bearing: bearing(1)},
		{asked: setup("beam", "loft", 0), typed: "360", reached: setup("beam", "loft", 0), bearing: bearing(0)},
		{asked: setup("whip", "loft"), typed: "70"},
		{asked: loop70, typed: "361"},
		{asked: loop70, typed: "-1"},
		{asked: loop70, typed: "nan"},
		{asked: loop70, typed: "1e2"},
		{asked: loop70, typed: "°"},
		{asked: loop70, typed: "7.0.0"},
		{asked: loop70, typed: "yes"},
		{asked: loop70, typed: "\x1b[A"},
		{asked: loop70, typed: strings.Repeat("7", 5000)},
	} {
		atDesk(t, func(t *testing.T, d *desk) {
			done := d.asks(t, test.asked)
			question := d.screen.read()
			d.types(t, test.typed+"\n")
			if test.reached == (survey.Setup{}) {
				again := d.screen.read()
				if len(done) > 0 || !strings.Contains(again, "That is no answer here.") || !strings.HasSuffix(again, question[strings.Index(question, "Connect"):]) {
					t.Errorf("%v, %.20q: %v, said %s", test.asked, test.typed, len(done), again)
				}
				d.types(t, "s\n")
				outcome(t, done)
				return
			}
			want := capture.Reached{Setup: test.reached, Bearing: test.bearing, Said: test.said}
			if got := outcome(t, done); got.err != nil || got.reached != want {
				t.Errorf("%v, %q: %+v, want %+v", test.asked, test.typed, got, want)
			}
		})
	}
}

// The plan asks for a bearing of the loop and its opposite, to find out whether
// they are alike: they are two setups.
func TestPersonWhereHalfATurnDoesNotServe(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.Plan.Setups = []survey.Setup{setup("loop", "loft", 70), setup("loop", "loft", 250)}
		done := d.asks(t, setup("loop", "loft", 70))
		d.types(t, "250\n")
		if got := outcome(t, done); got.reached.Setup != setup("loop", "loft", 250) {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
		// It stands at 250° now, and is asked for only where that is to be changed.
		if d.screen.read(); len(d.asks(t, setup("loop", "loft", 250))) == 0 || d.screen.read() != "" {
			t.Error("asked for what is in place")
		}
	})
}

func TestPersonLeavesAVisitOut(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		whip, loop := setup("whip", "study"), setup("loop", "loft", 70)
		d.confirms(t, whip)
		for _, key := range []string{"s\n", "S\n"} {
			done := d.asks(t, loop)
			d.types(t, key)
			if got := outcome(t, done); !errors.Is(got.err, capture.ErrNotReached) || !strings.HasSuffix(got.err.Error(), ": left out by the operator") {
				t.Errorf("%q: %+v", key, got)
			}
		}
		// The whip may have been taken off before the s: nobody but the person knows.
		d.screen.read()
		if done := d.asks(t, whip); len(done) > 0 || !strings.Contains(d.screen.read(), "Connect the whip in the study") {
			t.Error("taken for granted after a visit was left out")
		}
		d.types(t, "\n")
	})
}

func TestPersonShowsCautions(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		done := d.asks(t, setup("whip", "study"))
		for _, key := range []string{"?\n", "c\n"} {
			d.screen.read()
			d.types(t, key)
			const want = "\nNever work on a mast alone.\n\nwhip@study: Connect the whip in the study, and press Enter.\n(Or s to leave this visit out; ? for cautions.)\n"
			if got := d.screen.read(); got != want || len(done) > 0 {
				t.Errorf("%q: it said %s", key, got)
			}
		}
		d.types(t, "\n")
		outcome(t, done)
	})
}

func TestPersonIsRemindedAndNoLongerWaitedFor(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.Plan.Change.Remind = 2 * time.Minute // the last with the end of the patience: not said
		done := d.asks(t, setup("loop", "loft", 70))
		d.screen.read()
		time.Sleep(10 * time.Minute)
		want := ""
		for _, minutes := range []string{"2", "4", "6", "8"} {
			want += "\aStill waiting for loop@loft:70; " + minutes + " of 10 min.\n"
		}
		want += "Going on: nobody answered for 10m; this visit is left out.\n"
		if got := d.screen.read(); got != want {
			t.Errorf("it said %q", got)
		}
		if got := outcome(t, done); !errors.Is(got.err, capture.ErrNotReached) || !strings.Contains(got.err.Error(), "nobody answered for 10m, and nothing was confirmed") {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
		d.confirms(t, setup("whip", "study"))
		d.screen.read()
		begun := time.Now()
		done = d.asks(t, setup("loop", "loft", 70))
		got := <-done
		if waited := time.Since(begun); waited != 10*time.Minute {
			t.Errorf("waited for %v", waited)
		}
		if want := (capture.Reached{Setup: setup("whip", "study"), Said: "nobody answered for 10m: still whip@study"}); got.err != nil || got.reached != want {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
		if said := d.screen.read(); !strings.HasSuffix(said, "Going on with whip@study: nobody answered for 10m. Leave it as it is until the\nnext question.\n") {
			t.Errorf("it said %s", said)
		}
	})
}

// A person comes back to the keyboard after the patience has ended: the Enter
// belongs to no question, and what is in place is no longer sure.
func TestPersonAnswersLate(t *testing.T) {
	west, east, whip := setup("loop", "loft", 70), setup("loop", "study", 70), setup("whip", "study")
	for _, late := range []string{"", "\n", "\n\n80\n"} {
		atDesk(t, func(t *testing.T, d *desk) {
			d.confirms(t, west)
			<-d.asks(t, east)
			d.types(t, late)
			d.screen.read()

			// What was in place before is asked for again: sure only if no key was touched.
			done := d.asks(t, west)
			said := d.screen.read()
			if late == "" {
				if got := outcome(t, done); said != "" || got.reached.Setup != west || got.reached.Said != survey.SaidUnconfirmed+" since nobody answered the question before" || got.reached.DoubtBefore {
					t.Errorf("nobody there: %+v, said %s", got, said)
				}
			} else {
				if len(done) > 0 || !strings.Contains(said, "Connect the loop in the loft, turn its plane to 070°") {
					t.Errorf("%q: taken as the answer, or not asked whole: %s", late, said)
				}
				time.Sleep(10 * time.Minute)
				if got := outcome(t, done); got.reached.Setup != west || got.reached.Said == "" || !got.reached.DoubtBefore {
					t.Errorf("%q: %+v", late, got)
				}
			}
			// The loop may have been carried: a bearing alone will not do.
			done = d.asks(t, setup("loop", "loft", 100))
			if said := d.screen.read(); len(done) > 0 || !strings.Contains(said, "Connect the loop in the loft, turn its plane to 100°") {
				t.Errorf("%q: %s", late, said)
			}
			d.types(t, "\n")
			outcome(t, done)
			d.confirms(t, whip)
		})
	}
}

// What is typed while a visit goes on unconfirmed makes that visit doubtful, and no
// other.
func TestPersonMakesAVisitDoubtful(t *testing.T) {
	west, whip := setup("loop", "loft", 70), setup("whip", "study")
	for what, test := range map[string]struct {
		asked []survey.Setup // one after the other; the first is confirmed, the rest is not answered
		typed []string       // in the visit to each
		doubt []bool         // of the visit before each
	}{
		"after the patience":        {[]survey.Setup{west, whip, whip, whip}, []string{"", "\n", "", ""}, []bool{false, false, true, false}},
		"a visit later":             {[]survey.Setup{west, whip, west, west}, []string{"", "", "x\n", ""}, []bool{false, false, false, true}},
		"in a visit that is sure":   {[]survey.Setup{west, west, whip, whip}, []string{"\n", "\n", "", ""}, []bool{false, false, false, false}},
		"nothing":                   {[]survey.Setup{west, whip, whip}, []string{"", "", ""}, []bool{false, false, false}},
		"where it is in place then": {[]survey.Setup{west, whip, west}, []string{"", "\n\n", ""}, []bool{false, false, true}},
	} {
		atDesk(t, func(t *testing.T, d *desk) {
			for i, asked := range test.asked {
				done := d.asks(t, asked)
				if i == 0 {
					d.types(t, "\n")
				}
				if got := <-done; got.err != nil || got.reached.DoubtBefore != test.doubt[i] {
					t.Errorf("%s, %d: %+v, %v", what, i, got.reached, got.err)
				}
				if test.typed[i] != "" {
					d.types(t, test.typed[i])
				}
			}
		})
	}
	// It is told beside an error as well; a visit that was left out is in no doubt.
	atDesk(t, func(t *testing.T, d *desk) {
		d.confirms(t, west)
		<-d.asks(t, whip)
		d.types(t, "\n")
		for _, doubt := range []bool{true, false} {
			done := d.asks(t, whip)
			d.types(t, "s\n")
			if got := outcome(t, done); !errors.Is(got.err, capture.ErrNotReached) || got.reached != (capture.Reached{DoubtBefore: doubt}) {
				t.Errorf("%+v, %v, want doubt %v", got.reached, got.err, doubt)
			}
			d.types(t, "\n")
		}
	})
}

// Asked to carry a tuned loop and not answering, a person may have peaked it in
// another place.
func TestPersonPeaksAgainAfterDoubt(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		loft := setup("tuned loop", "loft")
		d.confirms(t, loft)
		<-d.asks(t, setup("tuned loop", "study"))
		d.types(t, "\n")
		d.screen.read()
		d.confirms(t, loft)
		if said := d.screen.read(); !strings.Contains(said, "peak it for") {
			t.Errorf("it said %s", said)
		}
	})
}

// Typed before the first question, and while none is open.
func TestPersonTypesAhead(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		typed := make(chan struct{})
		go func() { defer close(typed); io.WriteString(d.keys, "\n") }()
		done := d.asks(t, setup("whip", "study"))
		if <-typed; len(done) > 0 {
			t.Error("typed before the first question, and taken as its answer")
		}
		d.types(t, "\n")
		outcome(t, done)
		d.types(t, "\ns\n")
		if done = d.asks(t, setup("loop", "loft", 70)); len(done) > 0 {
			t.Error("typed before the question, and taken as its answer")
		}
		// Two lines at once: the second was typed before the question is put again.
		if d.types(t, "what?\n\n"); len(done) > 0 {
			t.Error("an Enter pasted behind something else was taken as the answer")
		}
		d.types(t, "\n")
		outcome(t, done)
	})
}

func TestPersonInputEnds(t *testing.T) {
	whip, loop := setup("whip", "study"), setup("loop", "loft", 70)
	gone := func(t *testing.T, got answer) {
		t.Helper()
		const want = "nobody can be asked any more: the terminal's input has ended; start it again at a terminal"
		if got.err == nil || errors.Is(got.err, capture.ErrNotReached) || got.err.Error() != want {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
	}
	atDesk(t, func(t *testing.T, d *desk) { // before anything is asked
		d.keys.Close()
		gone(t, outcome(t, d.asks(t, whip)))
		gone(t, outcome(t, d.asks(t, whip)))
		if said := d.screen.read(); said != "" {
			t.Errorf("asked all the same: %s", said)
		}
	})
	atDesk(t, func(t *testing.T, d *desk) { // between questions: the whip stays until one is to be asked
		d.confirms(t, whip)
		d.keys.Close()
		synctest.Wait()
		if got := outcome(t, d.asks(t, whip)); got.reached != (capture.Reached{Setup: whip}) {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
		gone(t, outcome(t, d.asks(t, loop)))
		gone(t, outcome(t, d.asks(t, whip)))
	})
	atDesk(t, func(t *testing.T, d *desk) { // the line to the terminal is lost
		d.keys.CloseWithError(io.ErrClosedPipe)
		got := outcome(t, d.asks(t, whip))
		if got.err == nil || errors.Is(got.err, capture.ErrNotReached) || !strings.Contains(got.err.Error(), "has ended (io: read/write on closed pipe); start it again") {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
	})
	atDesk(t, func(t *testing.T, d *desk) { // in a question, in the middle of a line
		d.confirms(t, whip)
		done := d.asks(t, loop)
		d.types(t, "70")
		d.keys.Close()
		synctest.Wait()
		gone(t, outcome(t, done))
		gone(t, outcome(t, d.asks(t, whip))) // it may have been taken off
	})
	atDesk(t, func(t *testing.T, d *desk) { // an answer with the end right behind it
		done := d.asks(t, whip)
		go func() { io.WriteString(d.keys, "\n"); d.keys.Close() }()
		if got := <-done; got.err != nil || got.reached.Setup != whip {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
	})
}

func TestPersonScreenFails(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.Out = broken{}
		got := outcome(t, d.asks(t, setup("whip", "study")))
		if !errors.Is(got.err, capture.ErrNotReached) || !errors.Is(got.err, io.ErrClosedPipe) {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
	})
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestPersonIsCancelled(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		for range 3 { // one reader for all
			ctx, cancel := context.WithCancel(t.Context())
			time.AfterFunc(time.Minute, cancel)
			begun := time.Now()
			if _, err := d.Change(ctx, setup("whip", "study")); !errors.Is(err, context.Canceled) {
				t.Error(err)
			}
			if waited := time.Since(begun); waited != time.Minute {
				t.Errorf("cancelled after a minute, back after %v", waited)
			}
			if _, err := d.Change(ctx, setup("whip", "study")); !errors.Is(err, context.Canceled) {
				t.Error(err)
			}
		}
	})
}

// One goroutine reads for good; what else a question starts ends with it.
func TestPersonLeavesNoGoroutine(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.Plan.Change.Patience = time.Minute
		for range 50 {
			<-d.asks(t, setup("whip", "study"))
		}
		synctest.Wait()
		stacks := make([]byte, 1<<20)
		text := string(stacks[:runtime.Stack(stacks, true)])
		if readers, all := strings.Count(text, "turn.(*typedLines).read("), strings.Count(text, "created by nightfloor/capture/turn.(*"); readers != 1 || all != 1 {
			t.Errorf("after 50 questions %d goroutines read and %d were left in all, want the one that reads", readers, all)
		}
	})
}

// What a rotator turns is not turned by hand; the bearing goes on to the rotator.
func TestPersonLeavesTurningToARotator(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.Plan.Change.Rotator = &plan.Rotator{Antennas: []string{"loop"}}
		done := d.asks(t, setup("loop", "loft", 70))
		if said := d.screen.read(); !strings.HasSuffix(said, "Connect the loop in the loft, and press Enter.\n(Or s to leave this visit out; ? for cautions.)\n") {
			t.Errorf("it said %s", said)
		}
		if d.types(t, "80\n"); len(done) > 0 {
			t.Error("a bearing typed for what a rotator turns was taken")
		}
		d.types(t, "\n")
		outcome(t, done)
		d.screen.read()
		if got := outcome(t, d.asks(t, setup("loop", "loft", 100))); d.screen.read() != "" || got.reached != (capture.Reached{Setup: setup("loop", "loft", 100)}) {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
		// Nobody answers: the loop stays, at the bearing it was sent to last.
		if got := <-d.asks(t, setup("whip", "study")); got.reached.Setup != setup("loop", "loft", 100) || got.reached.Said != "nobody answered for 10m: still loop@loft:100" {
			t.Errorf("%+v, %v", got.reached, got.err)
		}
	})
}

func TestPersonGuardsTheTerminal(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.confirms(t, setup("lo\x1b[2Jop", "lo\u202eft\xff"))
		said := d.screen.read()
		if !strings.Contains(said, "Connect the \"lo\\x1b[2Jop\" in the\n\"lo\\u202eft\\xff\", and press") || strings.Contains(said, "\x1b") {
			t.Errorf("it said %q", said)
		}
	})
}

func TestDurationsInWords(t *testing.T) {
	for d, want := range map[time.Duration]string{
		10 * time.Minute: "10m", time.Hour: "1h", 90 * time.Minute: "1h30m", 90 * time.Second: "1m30s",
		time.Hour + 5*time.Second: "1h0m5s", 20 * time.Second: "20s", 100 * time.Second: "1m40s",
	} {
		if got := durationText(d); got != want {
			t.Errorf("%v: %s, want %s", d, got, want)
		}
	}
	if got := elapsedText(90*time.Second+3*time.Millisecond, 10*time.Minute); got != "1m30s of 10m" {
		t.Error(got)
	}
	if got := survey.Edges(900e3, 1.6e6, "–"); got != "900 kHz–1.6 MHz" {
		t.Error(got)
	}
}

// What a control takes the place of is said.
func TestStepsToControls(t *testing.T) {
	p := &Person{Plan: plan.Plan{Antennas: []survey.Antenna{{Name: "dummy", Kind: survey.KindReplaced, Of: "whip"},
		{Name: "own", Kind: survey.KindTerminator, At: survey.AtReceiver}, {Name: "end", Kind: survey.KindTerminator, At: survey.AtAntenna}}}}
	for antenna, want := range map[string]string{
		"dummy": "Connect the dummy in place of the whip's element in the loft, its amplifier and feed line as they are",
		"own":   "Connect the own at the receiver's input, in place of the feed line",
		"end":   "Connect the end in the antenna's place at the far end of the feed line in the loft",
	} {
		if got := p.steps(survey.Setup{Antenna: antenna, Placement: "loft"}, survey.Setup{Antenna: "whip", Placement: "loft"}); !slices.Equal(got, []string{want}) {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
