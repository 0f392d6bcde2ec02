package capture_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A survey that is stopped ends between two sweeps: whole sweeps only, and at
// most the one in hand after the word.
func TestStopBetweenSweeps(t *testing.T) {
	for stopAt := 1; stopAt <= 6; stopAt++ {
		p := smallPlan()
		p.Sweeps = 3
		p.Rounds = 1
		r, _, m := recorderOf(quiet, p)
		stop := false // asked from another goroutine only while that one waits for this
		asked := make(chan struct{})
		r.Stop = func() bool {
			select {
			case <-asked:
				return true
			default:
				return false
			}
		}
		r.Stored = func(s *survey.Sweep) {
			if s.ID == int64(stopAt) && !stop {
				stop = true
				close(asked)
			}
		}
		run(t, r)
		if n := len(m.sweeps); n < stopAt || n > stopAt+1 {
			t.Errorf("stopped at sweep %d: %d sweeps", stopAt, n)
		}
		if m.survey.Ending != "stopped by the operator" {
			t.Errorf("stopped at sweep %d: %q", stopAt, m.survey.Ending)
		}
		for _, s := range m.sweeps {
			if len(s.Readings) != 2 {
				t.Errorf("stopped at sweep %d: half a sweep of %d", stopAt, len(s.Readings))
			}
		}
	}
}

// A stop in the very last visit is a stop too, unless all was done.
func TestStopInTheLastVisit(t *testing.T) {
	for stopAt, want := range map[int]string{1: "stopped by the operator", 4: "all rounds done"} {
		p := smallPlan()
		p.Setups, p.Rounds, p.Sweeps = p.Setups[:1], 1, 4
		r, _, m := recorderOf(quiet, p)
		asked := make(chan struct{})
		r.Stop = func() bool {
			select {
			case <-asked:
				return true
			default:
				return false
			}
		}
		r.Stored = func(s *survey.Sweep) {
			if s.ID == int64(stopAt) {
				close(asked)
			}
		}
		run(t, r)
		if m.survey.Ending != want {
			t.Errorf("stopped at sweep %d of 4, %d stored: %q, want %q", stopAt, len(m.sweeps), m.survey.Ending, want)
		}
	}
}

func TestUntil(t *testing.T) {
	p := smallPlan()
	p.Rounds = 0   // until stopped
	p.Sweeps = 100 // so that the time is up within the first round
	r, fake, m := recorderOf(quiet, p)
	r.Until = fake.Now().Add(5 * time.Second)
	run(t, r)
	if m.survey.Ending != "the time was up" || len(m.sweeps) < 6 {
		t.Errorf("%q after %d sweeps", m.survey.Ending, len(m.sweeps))
	}
	// The sweep in hand takes 2 · 141 ms, and another may be under way.
	if late := m.survey.End.Sub(r.Until); late < 0 || late > 600*time.Millisecond {
		t.Errorf("ended %v after its time", late)
	}
}

// While it waits for the next visit it hears an operator who stops it, and the
// end of its time.
func TestEndsWhileItWaits(t *testing.T) {
	p := smallPlan()
	p.Every = time.Hour
	r, fake, m := recorderOf(quiet, p)
	start := fake.Now()
	r.Until = start.Add(10 * time.Minute)
	run(t, r)
	if took := m.survey.End.Sub(start); took > 10*time.Minute+time.Second || m.survey.Ending != "the time was up" {
		t.Errorf("%q after %v, want 10 min", m.survey.Ending, took)
	}
	if len(m.sweeps) != 2 {
		t.Errorf("%d sweeps, want those of one visit", len(m.sweeps))
	}
}

// Whatever fails, the survey ends with what failed in its ending, and what was
// stored before stays.
func TestFailuresEndTheSurvey(t *testing.T) {
	broken := errors.New("relay hangs")
	full := errors.New("disk full")
	for _, test := range []struct {
		name   string
		faults map[int]error // of reads
		change map[int]error
		fullAt int
		want   error
		text   string
		least  int // sweeps stored before
		most   int
	}{
		// Without gain steps a reading takes two reads and a sweep four; the 10th
		// read is in the third sweep.
		{name: "receiver", faults: map[int]error{10: capture.ErrUnplugged}, want: capture.ErrUnplugged, text: "failed: read lower at 5.99115 MHz: receiver unplugged", least: 2, most: 2},
		{name: "changer", change: map[int]error{2: broken}, want: broken, text: "failed: change to ", least: 2, most: 2},
		{name: "store", fullAt: 4, want: full, text: "failed: disk full", least: 3, most: 3},
		{name: "first read", faults: map[int]error{1: capture.ErrUnplugged}, want: capture.ErrUnplugged, text: "failed: read lower at", least: 0, most: 0},
	} {
		sky := quiet
		sky.Gains, sky.Faults = []survey.DB{}, test.faults
		r, fake, m := recorderOf(sky, smallPlan())
		made := 0
		r.Changer = changes(func(asked survey.Setup) (capture.Reached, error) {
			if made++; test.change[made] != nil {
				return capture.Reached{}, test.change[made]
			}
			return fake.Change(t.Context(), asked)
		})
		m.failAt, m.failure = test.fullAt, full
		id, err := r.Run(t.Context())
		if !errors.Is(err, test.want) || id != 7 {
			t.Errorf("%s: survey %d: %v, want %v", test.name, id, err, test.want)
		}
		if !strings.HasPrefix(m.survey.Ending, test.text) || m.ends != 1 {
			t.Errorf("%s: ending %q, %d times, want %q", test.name, m.survey.Ending, m.ends, test.text)
		}
		if n := len(m.sweeps); n < test.least || n > test.most {
			t.Errorf("%s: %d sweeps stored, want %d to %d", test.name, n, test.least, test.most)
		}
	}
}

// The pilot's own failure says that it was the pilot.
func TestPilotFails(t *testing.T) {
	sky := quiet
	sky.Faults = map[int]error{2: capture.ErrUnplugged}
	r, _, m := recorderOf(sky, smallPlan())
	if _, err := r.Run(t.Context()); !errors.Is(err, capture.ErrUnplugged) || !strings.Contains(m.survey.Ending, "pilot sweep at 5.99115 MHz through ") {
		t.Errorf("%v, ending %q", err, m.survey.Ending)
	}
}

// A second interrupt ends the survey at once; its end is stored all the same.
func TestCancelledContext(t *testing.T) {
	r, _, m := recorderOf(quiet, smallPlan())
	ctx, cancel := context.WithCancel(t.Context())
	r.Stored = func(s *survey.Sweep) {
		if s.ID == 3 {
			cancel()
		}
	}
	if _, err := r.Run(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if m.ends != 1 || !strings.HasPrefix(m.survey.Ending, "stopped at once") || len(m.sweeps) != 3 {
		t.Errorf("%d sweeps, ending %q", len(m.sweeps), m.survey.Ending)
	}
}

func TestSegmentsThatDoNotFitBeginNoSurvey(t *testing.T) {
	p := smallPlan()
	p.Segments = []survey.Segment{{Name: "31 m", Low: 9.4e6, High: 9.9e6}}
	r, _, m := recorderOf(quiet, p)
	if _, err := r.Run(t.Context()); err == nil || !strings.Contains(fmt.Sprint(err), "31 m") || m.survey.Kind != "" {
		t.Errorf("%v, survey %+v", err, m.survey)
	}
}

// A survey whose end is not stored ends with an error, also where the failure may pass.
func TestEndIsNotStored(t *testing.T) {
	full := errors.New("the disk is full")
	r, _, m := recorderOf(quiet, smallPlan())
	r.Passing = func(err error) bool { return errors.Is(err, full) }
	r.Stop = func() bool { return len(m.sweeps) >= 4 }
	m.endFails = full
	if _, err := r.Run(t.Context()); !errors.Is(err, full) {
		t.Errorf("%v, want %v", err, full)
	}
}

// What the store cannot do is said once.
func TestSurveyIsNotResumed(t *testing.T) {
	refused := errors.New("it can only be read")
	r, _, m := recorderOf(quiet, smallPlan())
	m.resumeFails = refused
	r.Resume = &survey.Progress{Survey: survey.Survey{ID: 1}}
	if _, err := r.Run(t.Context()); err == nil || err.Error() != "resume survey 1: it can only be read" {
		t.Errorf("%v", err)
	}
}

// A survey that ends while the disk is full says so, and marks the gap where there is room for
// that.
func TestEndWhileTheDiskIsFull(t *testing.T) {
	full := errors.New("the disk is full")
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Passing = func(err error) bool { return errors.Is(err, full) }
	m.failAt, m.failFor, m.failure = 5, 1000, full
	r.Until = fake.Now().Add(20 * time.Second)
	if _, err := r.Run(t.Context()); err != nil || len(m.gaps) != 1 || m.gaps[0].To.Before(r.Until) || !strings.Contains(m.gaps[0].Why, "disk is full") {
		t.Errorf("%v, gaps %v; want one until %v", err, m.gaps, r.Until)
	}
	r, fake, m = recorderOf(quiet, smallPlan())
	r.Passing = func(err error) bool { return errors.Is(err, full) }
	m.failAt, m.failFor, m.failure, m.gapFails = 5, 1000, full, full
	r.Until = fake.Now().Add(20 * time.Second)
	if _, err := r.Run(t.Context()); err == nil || !strings.HasPrefix(err.Error(), "store the sweeps since ") || m.ends != 1 {
		t.Errorf("%v, ended %d times; want that the gap is not marked", err, m.ends)
	}
}
