package capture_test

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

// Each setup is tried once, in the plan's order, and nothing is stored; what cannot be put in place
// is passed over, and a setup that another stands in for, or nobody confirmed, is not heard.
func TestTry(t *testing.T) {
	p := smallPlan()
	r, fake, m := recorderOf(quiet, p)
	for name, test := range map[string]struct {
		second func(capture.Reached) (capture.Reached, error) // what becomes of the change to the whip
		heard  bool
		said   string // of the error
	}{
		"all is well":    {func(is capture.Reached) (capture.Reached, error) { return is, nil }, true, ""},
		"not in place":   {func(capture.Reached) (capture.Reached, error) { return capture.Reached{}, errStuck }, false, "the relay sticks"},
		"another":        {func(is capture.Reached) (capture.Reached, error) { is.Setup = loop; return is, nil }, false, ""},
		"nobody answers": {func(is capture.Reached) (capture.Reached, error) { is.Said = survey.SaidUnconfirmed; return is, nil }, false, ""},
	} {
		r.Changer = changerFunc(func(asked survey.Setup) (capture.Reached, error) {
			is, err := fake.Change(t.Context(), asked)
			if err != nil || asked != whip {
				return is, err
			}
			return test.second(is)
		})
		var told []survey.Setup
		r.Visiting = func(v survey.Visit, known bool) { told = append(told, v.Asked, v.Reached) }
		trials, err := r.Try(t.Context())
		if err != nil || len(trials) != 3 || len(m.sweeps)+len(m.visits) != 0 || m.survey.ID != 0 {
			t.Fatalf("%s: %v, %d trials, stored %d sweeps in %+v", name, err, len(trials), len(m.sweeps), m.survey)
		}
		for i, trial := range trials {
			if want := i != 1 || test.heard; trial.Asked != p.Setups[i] || trial.Heard() != want {
				t.Errorf("%s: %+v heard: %v, want %v", name, trial, trial.Heard(), want)
			}
			if made := len(trial.Readings) == 2; made != (trial.Err == nil) || made && trial.Readings[0].Floor == nil {
				t.Errorf("%s: readings %v, error %v", name, trial.Readings, trial.Err)
			}
		}
		if err := trials[1].Err; (err != nil) != (test.said != "") || err != nil && !strings.Contains(err.Error(), test.said) {
			t.Errorf("%s: %v", name, err)
		}
		if n := map[bool]int{true: 12, false: 10}[test.said == ""]; len(told) != n || !slices.Equal(told[:4], []survey.Setup{loop, {}, loop, loop}) {
			t.Errorf("%s: told of %v", name, told)
		}
	}
}

// A receiver that fails, or a changer that can work no more, ends it; what was tried is given.
func TestTryEndsEarly(t *testing.T) {
	over := errors.New("nobody can be asked any more")
	for want, sky := range map[string]capturetest.Sky{ // the 16th Read is in the second setup
		over.Error():                   quiet,
		"receiver unplugged":           {Floor: -120, Faults: map[int]error{16: capture.ErrUnplugged}},
		"ends before a sweep is whole": {Floor: -120, Faults: map[int]error{16: io.EOF}},
	} {
		r, fake, _ := recorderOf(sky, smallPlan())
		r.Changer = changerFunc(func(asked survey.Setup) (capture.Reached, error) {
			if asked == whip && want == over.Error() {
				return capture.Reached{}, over
			}
			return fake.Change(t.Context(), asked)
		})
		trials, err := r.Try(t.Context())
		if err == nil || !strings.Contains(err.Error(), want) || len(trials) != 2 || !trials[0].Heard() || trials[1].Heard() || !errors.Is(err, trials[1].Err) {
			t.Errorf("%v: %+v", err, trials)
		}
	}
}

// A changerFunc is a changer.
type changerFunc func(asked survey.Setup) (capture.Reached, error)

func (f changerFunc) Change(_ context.Context, asked survey.Setup) (capture.Reached, error) {
	return f(asked)
}
