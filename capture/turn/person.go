package turn

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A Person changes antennas by hand. At a terminal it is asked for what differs from the
// setup that was confirmed last. What is typed before a question is no answer to it.
// Bearings that are typed are true ones, in degrees.
type Person struct {
	In  io.Reader // the terminal; read until its end from the first Change on
	Out io.Writer
	// Plan tells about antennas and who turns them. A question is repeated every
	// Change.Remind, and after Change.Patience the survey goes on with what is there;
	// both are above 0.
	Plan     plan.Plan
	Cautions string // printed when asked for

	start  sync.Once
	typed  typedLines
	placed capture.Reached   // confirmed last; no antenna: nothing was yet
	peaked map[string]string // antenna → placement where it was peaked last
	warned bool
	// open: the last question was not answered with what is in place, so that the setup
	// confirmed before it may have been changed since. silent: nothing was typed either.
	open, silent bool
	unconfirmed  bool          // the visit in hand goes on unconfirmed: what is typed now makes it doubtful
	doubt        bool          // the visit before is doubtful, and nobody was told yet
	settling     time.Duration // in tests; 0: the constant
	ended        error         // why nobody can be asked any more
}

// handTolerance is by how much a typed bearing may miss and counts as the asked
// one, in degrees.
const handTolerance = 3

// Change asks for a setup, unless it is in place. Where nobody answers, the setup
// that was confirmed last is given. The error wraps capture.ErrNotReached where
// the operator leaves the visit out, or nobody answers and nothing was confirmed
// before. Once a question meets the end of the input, any change fails.
func (p *Person) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	p.listen(ctx)
	reached, err := p.change(ctx, asked)
	reached.DoubtBefore, p.doubt = p.doubt, false
	return reached, err
}

// listen begins to read what is typed, and ends the visit in hand: what was typed since its setup went unconfirmed makes it
// doubtful.
func (p *Person) listen(ctx context.Context) {
	p.start.Do(func() {
		p.peaked = map[string]string{}
		p.typed.answers = make(chan string, 1)
		go p.typed.read(p.In)
		p.settle(ctx)
	})
	p.doubt = p.doubt || p.unconfirmed && p.typed.typedBetween()
	p.unconfirmed = false
}

func (p *Person) change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	if err := ctx.Err(); err != nil {
		return capture.Reached{}, err
	}
	switch {
	case p.ended != nil:
		return capture.Reached{}, p.ended
	case len(p.steps(asked, p.placed.Setup)) > 0:
	case !p.open:
		return p.confirm(asked, p.placed.Bearing), nil
	case p.silent && !p.typed.typedBetween():
		p.unconfirmed = true
		reached := p.placed
		reached.Setup, reached.Said = asked, survey.SaidUnconfirmed+" since nobody answered the question before"
		return reached, nil
	}
	return p.ask(ctx, asked)
}

// ask puts the question until it is answered or the patience ends.
func (p *Person) ask(ctx context.Context, asked survey.Setup) (reached capture.Reached, err error) {
	from := p.placed.Setup
	if p.open {
		from = survey.Setup{} // it may not be so any more: all of it is asked for
	}
	text := p.question(asked, from)
	p.open, p.silent = true, true
	if p.peaked[asked.Antenna] != asked.Placement {
		delete(p.peaked, asked.Antenna) // whatever the answer, its tuning is touched
	}
	var refused error
	answered, err := p.put(ctx, text, asked.String(), func(typed string) (done bool) {
		reached, done, refused = p.answer(asked, typed)
		return done
	})
	switch {
	case err != nil:
		return capture.Reached{}, err
	case !answered:
		return p.goOnUnconfirmed()
	}
	return reached, refused
}

// put puts a question until take is done with what was typed, or the patience ends; then answered is false.
// About names in reminders what is waited for.
func (p *Person) put(ctx context.Context, text, about string, take func(typed string) (done bool)) (answered bool, err error) {
	begun, patience, remind := time.Now(), time.NewTimer(p.Plan.Change.Patience), time.NewTicker(p.Plan.Change.Remind)
	defer patience.Stop()
	defer remind.Stop()
	defer p.typed.closeQuestion()
	if err := p.prompt(text); err != nil {
		return false, err
	}
	for {
		select {
		case <-ctx.Done():
			return false, ctx.Err()
		case <-patience.C:
			return false, nil
		case <-remind.C:
			if waited := time.Since(begun); waited < p.Plan.Change.Patience {
				p.say("\a" + fill(fmt.Sprintf("Still waiting for %s; %s.", about, elapsedText(waited, p.Plan.Change.Patience))))
			}
		case typed, ok := <-p.typed.answers:
			p.silent = false
			typed = strings.ToLower(typed)
			switch {
			case !ok:
				return false, p.inputEnded()
			case typed == "?" || typed == "c":
				p.say("\n" + strings.TrimSpace(p.Cautions) + "\n")
			case take(typed):
				return true, nil
			}
			p.settle(ctx)
			if err := p.prompt(text); err != nil {
				return false, err
			}
		}
	}
}

// prompt prints a question. What was typed before does not count from now on.
func (p *Person) prompt(text string) error {
	if !p.typed.openQuestion() {
		return p.inputEnded()
	}
	if !p.warned {
		text = fill(thunderCaution) + text
		p.warned = true
	}
	if err := p.say("\n" + text); err != nil {
		return fmt.Errorf("%w: nobody can be asked: %w; run it at a terminal", capture.ErrNotReached, err)
	}
	return nil
}

// answer takes what was typed; done is false where it says nothing of what is in
// place.
func (p *Person) answer(asked survey.Setup, typed string) (reached capture.Reached, done bool, err error) {
	switch typed {
	case "":
		return p.confirm(asked, survey.Bearing{}), true, nil
	case "s":
		p.say("This visit is left out.\n")
		return capture.Reached{}, true, capture.ErrLeftOut
	}
	bearing, ok := parseBearing(typed)
	if !ok || !p.handTurned(asked) {
		p.say(p.choices(asked))
		return capture.Reached{}, false, nil
	}
	bearing = p.nearest(asked, bearing)
	if p.miss(asked, bearing) <= handTolerance {
		return p.confirm(asked, bearing), true, nil
	}
	other := asked
	other.Bearing = bearing
	reached = p.confirm(other, bearing)
	reached.Said = fmt.Sprintf("asked for %v, stands at %v", asked.Bearing, bearing)
	p.say(fill(fmt.Sprintf("Taken as %v, not %v.", other, asked)))
	return reached, true, nil
}

// miss gives how far a bearing lies from the asked one, in degrees.
func (p *Person) miss(asked survey.Setup, bearing survey.Bearing) float64 {
	return math.Abs(bearing.From(asked.Bearing))
}

// nearest gives the bearing or, where half a turn serves all, its opposite,
// whichever lies nearer to the asked one.
func (p *Person) nearest(asked survey.Setup, bearing survey.Bearing) survey.Bearing {
	if opposite := bearing.Opposite(); p.Plan.HalfTurn()(asked.Antenna) && p.miss(asked, opposite) < p.miss(asked, bearing) {
		return opposite
	}
	return bearing
}

// confirm keeps what is in place.
func (p *Person) confirm(s survey.Setup, bearing survey.Bearing) capture.Reached {
	p.placed, p.open = capture.Reached{Setup: s, Bearing: bearing}, false
	if p.Plan.Antenna(s.Antenna).TunedHigh > 0 {
		p.peaked[s.Antenna] = s.Placement
	}
	return p.placed
}

// goOnUnconfirmed gives what was confirmed last: nobody answered.
func (p *Person) goOnUnconfirmed() (capture.Reached, error) {
	waited := "nobody answered for " + durationText(p.Plan.Change.Patience)
	if p.placed.Setup.Antenna == "" {
		p.say("Going on: " + waited + "; this visit is left out.\n")
		return capture.Reached{}, fmt.Errorf("%w: %s, and nothing was confirmed before", capture.ErrNotReached, waited)
	}
	p.unconfirmed = true
	there := p.placed.Setup.String()
	p.say(fill(fmt.Sprintf("Going on with %s: %s. Leave it as it is until the next question.", there, waited)))
	reached := p.placed
	reached.Said = waited + ": still " + there
	return reached, nil
}

// inputEnded is the error when nobody can be asked, now and later: it ends the survey.
func (p *Person) inputEnded() error {
	ended := "the terminal's input has ended"
	if !errors.Is(p.typed.err, io.EOF) {
		ended += fmt.Sprintf(" (%v)", p.typed.err)
	}
	p.ended = fmt.Errorf("nobody can be asked any more: %s; start it again at a terminal", ended)
	return p.ended
}

func (p *Person) say(text string) error {
	_, err := io.WriteString(p.Out, text)
	return err
}

// typedLines are what is typed, read by one goroutine until the end, so that what comes
// while no question is open can be thrown away.
type typedLines struct {
	answers chan string // to the question that is open; closed when there are no more

	mu     sync.Mutex
	open   bool  // a question is
	missed bool  // something was typed while none was
	err    error // why there are no more, set before answers is closed
}

// settling is how long is waited until what was typed already is read: what lies in
// the terminal's buffer takes microseconds.
const settling = 100 * time.Millisecond

// settle waits until what was typed already is read.
func (p *Person) settle(ctx context.Context) {
	_ = wallClock.Sleep(ctx, cmp.Or(p.settling, settling))
}

// read passes on line by line what is typed. A line cut off at the end is none.
func (l *typedLines) read(in io.Reader) {
	buffered := bufio.NewReader(in)
	long := false
	for {
		line, err := buffered.ReadSlice('\n')
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			long = true
		case err != nil:
			l.mu.Lock()
			l.err = err
			l.mu.Unlock()
			close(l.answers)
			return
		case long:
			l.pass("too long")
			long = false
		default:
			l.pass(strings.TrimSpace(string(line)))
		}
	}
}

// pass hands on the first line typed since the question.
func (l *typedLines) pass(line string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.open {
		l.missed = true
		return
	}
	select {
	case l.answers <- line:
	default:
	}
}

// openQuestion throws away what was typed so far, and counts what is typed from now
// on; false: there is no more.
func (l *typedLines) openQuestion() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.open, l.missed = true, false
	select {
	case _, ok := <-l.answers:
		return ok
	default:
		return l.err == nil
	}
}

// closeQuestion ends the question: nothing counts any more.
func (l *typedLines) closeQuestion() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.open = false
	select {
	case _, ok := <-l.answers:
		l.missed = ok // it came with the last moment of patience
	default:
	}
}

// typedBetween tells whether something was typed, or the input ended, since the last
// question.
func (l *typedLines) typedBetween() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.missed || l.err != nil
}
