package capture_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

var (
	straight = survey.Wiring{FeedLines: "straight", Idle: "50 ohm"}
	crossed  = survey.Wiring{FeedLines: "crossed", Idle: "50 ohm"}
)

// A bench is a fake whose wiring can be changed.
type bench struct {
	*capturetest.Fake
	asked []survey.Wiring
	was   []survey.Wiring
	leave bool // it stays as it was
	err   error
}

func (b *bench) Rewire(_ context.Context, was, asked survey.Wiring) (survey.Wiring, error) {
	b.was, b.asked = append(b.was, was), append(b.asked, asked)
	if err := b.err; err != nil {
		b.err = nil
		return was, err
	}
	if b.leave {
		return was, nil
	}
	return asked, nil
}

// crossing gives a recorder whose feed lines are crossed at half time.
func crossing(p plan.Plan) (*capture.Recorder, *bench, *memory) {
	p.Halves = [2]survey.Wiring{straight, crossed}
	r, fake, m := recorderOf(quiet, p)
	b := &bench{Fake: fake}
	r.Changer = b
	return r, b, m
}

// wirings gives those of the visits, by round.
func wirings(visits []survey.Visit) (all [][]survey.Wiring) {
	for _, v := range visits {
		for len(all) < v.Round {
			all = append(all, nil)
		}
		if !slices.Contains(all[v.Round-1], v.Wiring) {
			all[v.Round-1] = append(all[v.Round-1], v.Wiring)
		}
	}
	return all
}

func wantWirings(t *testing.T, visits []survey.Visit, want ...survey.Wiring) {
	t.Helper()
	got := wirings(visits)
	if !slices.EqualFunc(got, want, func(of []survey.Wiring, one survey.Wiring) bool { return len(of) == 1 && of[0] == one }) {
		t.Errorf("by round %v, want %v", got, want)
	}
}

func TestWiringChangesAtHalfTime(t *testing.T) {
	p := smallPlan()
	p.Rounds, p.Sweeps = 5, 1
	r, b, m := crossing(p)
	run(t, r)
	wantWirings(t, m.visits, straight, straight, straight, crossed, crossed)
	if want := []survey.Wiring{straight, crossed}; !slices.Equal(b.asked, want) || !slices.Equal(b.was, []survey.Wiring{{}, straight}) {
		t.Errorf("asked for %v with %v in place, want %v", b.asked, b.was, want)
	}
	// What nobody brings about is not stored.
	r, b, m = crossing(p)
	b.leave = true
	run(t, r)
	wantWirings(t, m.visits, survey.Wiring{}, survey.Wiring{}, survey.Wiring{}, survey.Wiring{}, survey.Wiring{})
	if len(b.asked) != 2 {
		t.Errorf("asked %d times", len(b.asked))
	}
	// What fails is asked for again: a visit is lost.
	r, b, m = crossing(p)
	b.err = capture.ErrNotReached
	run(t, r)
	if len(b.asked) != 3 || m.visits[0].Reached != (survey.Setup{}) || m.visits[1].Wiring != straight {
		t.Errorf("asked %d times, %+v", len(b.asked), m.visits[:2])
	}
}

// Of 20 s in rounds of about 1 s half are of each kind, to a round.
func TestWiringChangesAtHalfOfTheTime(t *testing.T) {
	p := smallPlan()
	p.Rounds, p.Sweeps, p.Every = 0, 1, time.Second/3
	r, _, m := crossing(p)
	r.Until = r.Clock.Now().Add(20 * time.Second)
	run(t, r)
	count := map[survey.Wiring]int{}
	for _, of := range wirings(m.visits) {
		if len(of) != 1 {
			t.Fatalf("%v in one round", of)
		}
		count[of[0]]++
	}
	if n := count[straight] - count[crossed]; n < 0 || n > 1 || count[straight] < 8 {
		t.Errorf("%v", count)
	}
}

// A survey that is taken up goes on in the half that it was in, and the round in hand stays in its own.
func TestResumedInItsHalf(t *testing.T) {
	p := smallPlan()
	p.Rounds, p.Sweeps = 6, 1
	for _, test := range []struct {
		round int
		was   survey.Wiring
		until time.Duration // with the rounds without end
		want  []survey.Wiring
	}{
		{2, straight, 0, []survey.Wiring{straight, straight, crossed, crossed, crossed}},
		{5, crossed, 0, []survey.Wiring{crossed, crossed}},
		{5, straight, 0, []survey.Wiring{straight, crossed}}, // nobody had crossed them
		{2, crossed, 2 * time.Second, []survey.Wiring{crossed, crossed}},
		{3, straight, 2 * time.Second, []survey.Wiring{straight, crossed}},
	} {
		p.Rounds = 6
		r, b, m := crossing(p)
		if test.until > 0 {
			r.Plan.Rounds, r.Plan.Every, r.Until = 0, time.Second/3, r.Clock.Now().Add(test.until)
		}
		r.Resume = &survey.Progress{Survey: survey.Survey{ID: 7, Start: r.Clock.Now().Add(-time.Hour)}, Last: r.Clock.Now().Add(-time.Minute), Round: test.round, Visit: 3*test.round - 1, Wiring: test.was,
			Made: map[survey.Setup]int{loop: 1, whip: 1}}
		if _, err := r.Run(t.Context()); err != nil {
			t.Fatal(err)
		}
		for i := range m.visits {
			m.visits[i].Round -= test.round - 1
		}
		wantWirings(t, m.visits, test.want...)
		if len(b.asked) == 0 || b.was[0] != test.was || b.asked[0] != test.want[0] {
			t.Errorf("%+v: asked for %v with %v in place", test, b.asked, b.was)
		}
	}
}

// A recorder that is stopped while it asks stores no visit.
func TestStoppedWhileRewiring(t *testing.T) {
	r, b, m := crossing(smallPlan())
	b.err = context.Canceled
	if _, err := r.Run(t.Context()); !errors.Is(err, context.Canceled) && err != nil || len(m.visits) != 0 {
		t.Errorf("%v, %d visits", err, len(m.visits))
	}
}
