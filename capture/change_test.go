package capture_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A hand is a changer of which the test says what comes of each change.
type hand struct {
	changer capture.Changer
	asked   int
	does    func(n int, asked survey.Setup) error // nil: it is done
}

func (h *hand) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	h.asked++
	if err := h.does(h.asked, asked); err != nil {
		return capture.Reached{}, err
	}
	return h.changer.Change(ctx, asked)
}

var errStuck = fmt.Errorf("%w: the relay sticks", capture.ErrNotReached)

// What nobody could put in place has no sweep; its visit is kept with the reason,
// the survey goes on, and the log speaks of each setup when it begins and when it ends.
func TestVisitsThatAreMissed(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Changer = &hand{changer: fake, does: func(n int, _ survey.Setup) error {
		if n >= 3 && n <= 5 { // the last of round 1 and the first two of round 2
			return errStuck
		}
		return nil
	}}
	var log bytes.Buffer
	r.Log = slog.New(slog.NewTextHandler(&log, nil))
	run(t, r)
	if len(m.visits) != 9 || len(m.sweeps) != 12 {
		t.Fatalf("%d visits, %d sweeps; want 9 and 2 each of those 6 that were reached", len(m.visits), len(m.sweeps))
	}
	for i, v := range m.visits {
		missed := i >= 2 && i <= 4
		if v.Number != i+1 || v.Survey != 7 || (v.Reached == survey.Setup{}) != missed || missed != strings.Contains(v.Said, "the relay sticks") {
			t.Errorf("%+v", v)
		}
	}
	for _, s := range m.sweeps {
		if v := m.visits[s.Visit-1]; s.Setup != v.Reached || s.Setup != v.Asked || s.Round != v.Round {
			t.Errorf("sweep of %v in visit %+v", s.Setup, v)
		}
	}
	if began, cleared := strings.Count(log.String(), "fault began: antenna"), strings.Count(log.String(), "fault cleared: antenna"); began != 2 || cleared != 2 { // of two setups
		t.Errorf("%d began, %d cleared:\n%s", began, cleared, log.String())
	}
	if m.survey.Ending != capture.EndDone {
		t.Errorf("ended with %q", m.survey.Ending)
	}
}

// A visit that the operator leaves out is no fault: somebody has just said so.
func TestVisitLeftOutIsNoFault(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Changer = &hand{changer: fake, does: func(n int, _ survey.Setup) error {
		if n == 2 {
			return capture.ErrLeftOut
		}
		return nil
	}}
	var log bytes.Buffer
	r.Log = slog.New(slog.NewTextHandler(&log, nil))
	run(t, r)
	if v := m.visits[1]; (v.Reached != survey.Setup{}) || !strings.Contains(v.Said, "left out by the operator") || strings.Contains(log.String(), "fault") {
		t.Errorf("%+v\n%s", v, log.String())
	}
}

// Where nothing at all can be put in place from the start, the survey ends and
// says so; a change that fails otherwise ends it as well.
func TestNothingIsPutInPlace(t *testing.T) {
	for _, failure := range []error{errStuck, errors.New("out of order")} {
		r, fake, m := recorderOf(quiet, smallPlan())
		h := &hand{changer: fake, does: func(int, survey.Setup) error { return failure }}
		r.Changer = h
		if _, err := r.Run(t.Context()); !errors.Is(err, failure) || len(m.sweeps) > 0 {
			t.Errorf("%v, %d sweeps", err, len(m.sweeps))
		}
		if want := map[bool]int{true: 3, false: 1}[failure == errStuck]; h.asked != want || !strings.HasPrefix(m.survey.Ending, "failed: ") {
			t.Errorf("%v: asked %d times, want %d; ended with %q", failure, h.asked, want, m.survey.Ending)
		}
	}
}

// A round in which nothing could be put in place is made again, so that an outage
// costs time and no rounds.
func TestRoundIsMadeAgain(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Changer = &hand{changer: fake, does: func(n int, _ survey.Setup) error {
		if n >= 4 && n <= 9 { // round 2, twice
			return errStuck
		}
		return nil
	}}
	begun := r.Clock.Now()
	run(t, r)
	if len(m.sweeps) != 18 || len(m.visits) != 15 {
		t.Errorf("%d sweeps in %d visits, want 18 in 15", len(m.sweeps), len(m.visits))
	}
	// Pauses of 1 and 2 s lie between.
	if took := r.Clock.Now().Sub(begun); took < 3*time.Second {
		t.Errorf("it was tried again without a pause: %v in all", took)
	}
}

// An outage of hours costs its own time only: the rounds after it are not thought to
// take as long, nor do those within it go by faster.
func TestOutageCostsItsOwnTime(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	p := smallPlan()
	p.Every, p.Rounds = time.Minute, 0
	r, fake, m := recorderOf(quiet, p)
	begun := r.Clock.Now()
	r.Until = begun.Add(10 * time.Hour)
	r.Changer = &hand{changer: fake, does: func(_ int, asked survey.Setup) error {
		at := fake.Now().Sub(begun)
		if at > 5*time.Hour && at < 8*time.Hour || at > 3*time.Hour && at < 4*time.Hour && asked != p.Setups[0] {
			return errStuck
		}
		return nil
	}}
	run(t, r)
	// Rounds of 3 min: 180 of them in the 9 h 57 min and more that hold whole ones, less
	// those of the 3 h, which are made again.
	last := m.sweeps[len(m.sweeps)-1]
	if left := r.Until.Sub(last.Start); left > 4*time.Minute {
		t.Errorf("it ended %v early, %q", left, m.survey.Ending)
	}
	if last.Round < 135 || last.Round > 145 {
		t.Errorf("%d rounds in 7 h, want 140", last.Round)
	}
}

// An operator who stops the survey is not kept waiting by a changer that waits.
func TestStopWhileTheAntennaIsChanged(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	var stopped atomic.Bool
	r.Stop = stopped.Load
	r.Changer = waits{fake, func() { stopped.Store(true) }}
	run(t, r)
	if m.survey.Ending != "stopped by the operator" || len(m.visits) != 0 || len(m.sweeps) != 0 {
		t.Errorf("ended with %q after %d visits", m.survey.Ending, len(m.visits))
	}
}

type waits struct {
	capture.Changer
	begun func()
}

func (w waits) Change(ctx context.Context, _ survey.Setup) (capture.Reached, error) {
	w.begun()
	<-ctx.Done()
	return capture.Reached{}, ctx.Err()
}

// In ABBA each setup has two visits a round, and a resumed survey leaves out what
// is there of them.
func TestThereAndBackAgain(t *testing.T) {
	p := smallPlan()
	p.Order, p.Rounds = plan.OrderABBA, 2
	r, _, m := recorderOf(quiet, p)
	run(t, r)
	if len(m.visits) != 12 || len(m.sweeps) != 24 {
		t.Fatalf("%d visits, %d sweeps, want 12 and 24", len(m.visits), len(m.sweeps))
	}
	var order []survey.Setup
	for _, v := range m.visits {
		order = append(order, v.Asked)
	}
	for round := range 2 {
		there, back := slices.Clone(order[6*round:6*round+3]), order[6*round+3:6*round+6]
		slices.Reverse(there)
		if !slices.Equal(there, back) {
			t.Errorf("round %d: %v", round+1, order[6*round:6*round+6])
		}
	}
	// Killed in round 2 after the way there and one sweep of the first on the way back.
	again, _, rest := recorderOf(quiet, p)
	again.Resume = &survey.Progress{Survey: survey.Survey{ID: 7}, Round: 2, Visit: 10, Made: map[survey.Setup]int{order[6]: 2, order[7]: 2, order[8]: 3}}
	run(t, again)
	if len(rest.sweeps) != 5 || rest.sweeps[0].Setup != order[8] || rest.sweeps[1].Setup != order[7] || rest.sweeps[3].Setup != order[6] {
		t.Errorf("resumed with %d sweeps, %v", len(rest.sweeps), rest.visits)
	}
}

// A tuned antenna is measured where it is tuned to: neither at another tuning nor in
// a segment that shares its own.
func TestTunedAntenna(t *testing.T) {
	p := smallPlan()
	neighbour := survey.Segment{Name: "neighbour", Low: higher.High, High: higher.High + 5e3}
	p.Segments = append(p.Segments, neighbour)
	tunings, err := capture.Tunings(p.Segments, capturetest.New(quiet).Info().SampleRate)
	if err != nil || len(tunings) != 2 {
		t.Fatalf("%d tunings, %v; two segments are to share one", len(tunings), err)
	}
	p.Antennas = []survey.Antenna{{Name: loop.Antenna, Kind: survey.KindLoop, TunedLow: higher.Low, TunedHigh: higher.High}}
	r, _, m := recorderOf(quiet, p)
	run(t, r)
	for _, s := range m.sweeps {
		var got []survey.Segment
		for _, reading := range s.Readings {
			got = append(got, reading.Segment)
		}
		want := []survey.Segment{lower, higher, neighbour}
		if s.Setup == loop {
			want = []survey.Segment{higher}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%v: measured %v, want %v", s.Setup, got, want)
		}
	}
	if len(m.sweeps) != 18 {
		t.Errorf("%d sweeps, want 18", len(m.sweeps))
	}
}

// A round that would be cut short by the end of the time is not begun.
func TestWholeRoundsOnly(t *testing.T) {
	p := smallPlan()
	p.Every = 10 * time.Second // a round of three visits takes 30 s
	for left, want := range map[time.Duration]int{65 * time.Second: 2, 91 * time.Second: 3, 20 * time.Second: 0} {
		r, _, m := recorderOf(quiet, p)
		r.Until = r.Clock.Now().Add(left)
		run(t, r)
		whole := map[int]int{}
		for _, s := range m.sweeps {
			whole[s.Round]++
		}
		n := 0
		for _, sweeps := range whole {
			if sweeps == 6 {
				n++
			}
		}
		if n != want || want > 0 && len(whole) != want {
			t.Errorf("%v: sweeps by round %v, want %d whole ones", left, whole, want)
		}
		if want == 2 && m.survey.Ending != "the time that was left did not hold another whole round" {
			t.Errorf("%v: ended with %q", left, m.survey.Ending)
		}
	}
}

// A terminator is measured at the gain of the first antenna, as soon as that is
// known, and so compares with it.
func TestTerminatorTakesTheAntennasGain(t *testing.T) {
	sky := quiet
	sky.Antennas = map[string]survey.DB{whip.Antenna: 20, survey.KindTerminator: -30}
	p := smallPlan()
	p.Setups = []survey.Setup{whip, {Antenna: survey.KindTerminator, Placement: "attic"}}
	r, _, m := recorderOf(sky, p)
	run(t, r)
	gains := map[string]map[survey.Gain]int{}
	for _, s := range m.sweeps {
		if s.Round == 1 { // the terminator may have come first
			continue
		}
		for _, reading := range s.Readings {
			if gains[s.Setup.Antenna] == nil {
				gains[s.Setup.Antenna] = map[survey.Gain]int{}
			}
			gains[s.Setup.Antenna][reading.Gain]++
		}
	}
	if len(gains[whip.Antenna]) == 0 || !maps.Equal(gains[whip.Antenna], gains[survey.KindTerminator]) {
		t.Errorf("gains by antenna: %v", gains)
	}
}

// A terminator at the receiver's input is measured at each gain that antennas have, one a visit; a dummy for
// an element at that of its antenna.
func TestControlsOfOwnNoiseTakeGains(t *testing.T) {
	loud, dummy, own := survey.Setup{Antenna: "loud", Placement: "attic"}, survey.Setup{Antenna: "dummy", Placement: "attic"}, survey.Setup{Antenna: "own", Placement: "attic"}
	sky := quiet
	sky.Antennas = map[string]survey.DB{loud.Antenna: 30, whip.Antenna: 0, dummy.Antenna: -30, own.Antenna: -30}
	p := smallPlan()
	p.Setups, p.Segments, p.Rounds = []survey.Setup{loud, whip, dummy, own}, p.Segments[:1], 5
	p.Antennas = []survey.Antenna{{Name: dummy.Antenna, Kind: survey.KindReplaced, Of: whip.Antenna}, {Name: own.Antenna, Kind: survey.KindTerminator, At: survey.AtReceiver}}
	r, _, m := recorderOf(sky, p)
	run(t, r)
	gains := map[string][]survey.DB{} // by antenna, in order, changes only
	for _, s := range m.sweeps {
		if s.Round == 1 { // a control may have come first
			continue
		}
		for _, reading := range s.Readings {
			if all := gains[s.Setup.Antenna]; len(all) == 0 || all[len(all)-1] != reading.Gain.DB {
				gains[s.Setup.Antenna] = append(all, reading.Gain.DB)
			}
		}
	}
	low, high := gains[loud.Antenna], gains[whip.Antenna]
	if len(low) != 1 || len(high) != 1 || low[0] == high[0] || !slices.Equal(gains[dummy.Antenna], high) || len(gains[own.Antenna]) != 4 ||
		!slices.Contains(gains[own.Antenna], low[0]) || !slices.Contains(gains[own.Antenna], high[0]) {
		t.Errorf("gains by antenna: %v", gains)
	}
}

// A changer that may have been worked on during a visit puts that visit in doubt.
func TestVisitInDoubt(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Changer = doubts{fake, new(int)}
	run(t, r)
	for _, s := range m.sweeps {
		for _, reading := range s.Readings {
			if reading.Quality.Has(survey.FlagSetupDoubt) != (s.Visit == 3) {
				t.Errorf("visit %d: flags %v", s.Visit, reading.Quality.Flags)
			}
		}
	}
}

type doubts struct {
	capture.Changer
	n *int
}

func (d doubts) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	*d.n++
	reached, err := d.Changer.Change(ctx, asked)
	reached.DoubtBefore = *d.n == 4
	return reached, err
}

// Whoever listens is told of each visit, before it and once it is known what is in place.
func TestVisitingIsTold(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Changer = &hand{changer: fake, does: func(n int, _ survey.Setup) error {
		if n == 4 {
			return errStuck
		}
		return nil
	}}
	var before, after []survey.Visit
	r.Visiting = func(v survey.Visit, known bool) {
		if known {
			after = append(after, v)
			return
		}
		if len(before) != len(after) || v.Reached != (survey.Setup{}) || len(m.visits) != len(before) {
			t.Errorf("%d were told before, %d after; %+v", len(before), len(after), v)
		}
		before = append(before, v)
	}
	run(t, r)
	if !slices.Equal(after, m.visits) || after[3].Reached != (survey.Setup{}) {
		t.Errorf("told of %v, stored are %v", after, m.visits)
	}
	for i, v := range before {
		if v.Number != i+1 || v.Round != after[i].Round || v.Asked != after[i].Asked {
			t.Errorf("%+v before %+v", v, after[i])
		}
	}
}
