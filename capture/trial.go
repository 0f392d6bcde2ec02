package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"nightfloor/survey"
)

// A Trial is what came of one setup of a plan that was tried.
type Trial struct {
	Asked    survey.Setup
	Reached  Reached          // no antenna: nobody knows what is in place
	Readings []survey.Reading // of one sweep through it; none: none was made
	Err      error            // why it was not put in place, or not heard
}

// Heard tells whether the setup that was asked for was in place and a sweep made through it.
func (t Trial) Heard() bool {
	return t.Err == nil && t.Reached.Setup == t.Asked && !strings.HasPrefix(t.Reached.Said, survey.SaidUnconfirmed) && len(t.Readings) > 0
}

// Try tries the plan instead of carrying it out: it puts each setup in place once, in the plan's
// order, and makes one sweep through it. Nothing is stored. What nobody could put in place is
// passed over. Any other error ends it, and comes with the trials until then, that of the setup
// in hand the last. Store, Until and Stop are not used.
func (r *Recorder) Try(ctx context.Context) (trials []Trial, err error) {
	r.setDefaults()
	sweeper, err := NewSweeper(r.Receiver, r.Clock, r.Plan, SweepOptions{Alive: r.Alive})
	if err != nil {
		return nil, err
	}
	for i, asked := range r.Plan.Setups {
		t := Trial{Asked: asked}
		visit := survey.Visit{Number: i + 1, Round: 1, Asked: asked, Start: r.Clock.Now()}
		r.Visiting(visit, false)
		if t.Reached, t.Err = r.Changer.Change(ctx, asked); t.Err == nil {
			visit.Reached = t.Reached.Setup
			r.Visiting(visit, true)
			if err = sweeper.Prepare(ctx, visit.Reached); err == nil {
				err = sweeper.Visit(ctx, visit.Reached, 1, func() bool { return false }, func(readings []survey.Reading) error {
					t.Readings = readings
					return nil
				})
			}
			if errors.Is(err, io.EOF) {
				err = errors.New("the recording that is played ends before a sweep is whole; take a longer one, or shorten the dwell in the plan")
			}
			t.Err = err
		} else if !errors.Is(t.Err, ErrNotReached) {
			err = fmt.Errorf("change to %v: %w", asked, t.Err)
		}
		if trials = append(trials, t); err != nil {
			return trials, err
		}
	}
	return trials, nil
}
