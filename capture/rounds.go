package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"nightfloor/capture/force"
	"nightfloor/survey"
)

// rounds makes the plan's rounds, or what is left of them.
func (r *Recorder) rounds(ctx context.Context) error {
	shuffler := r.Plan.Shuffler()
	made := map[survey.Setup]int{} // sweeps that a resumed round has already
	if r.Resume != nil {
		made = r.Resume.Made
		for r.round.number < r.Resume.Round-1 { // in the order that they had
			r.round.number++
			shuffler.Next()
		}
	}
	for r.Plan.Rounds == 0 || r.round.number < r.Plan.Rounds {
		if err := r.ended(); err != nil {
			return err
		}
		if r.outOfTime() {
			return endPartial
		}
		begun := r.Clock.Now()
		resumed := len(made) > 0
		if !resumed { // else it is of the half that it was of
			r.chooseHalf()
		}
		r.round.number++
		r.sweeper.BeginRound()
		r.round.stored, r.round.disturbed = resumed, false
		order := shuffler.Next()
		for pause := firstPause; ; pause = min(2*pause, lastPause) {
			if err := r.turns(ctx, order, made); err != nil {
				if closeErr := r.closeRound(ctx); closeErr != nil {
					return withNew(err, closeErr)
				}
				return err
			}
			if r.round.stored {
				break
			}
			// A round in which nothing could be put in place, or stored, is made again.
			if err := r.wait(ctx, r.Clock.Now().Add(pause)); err != nil {
				return err
			}
		}
		if err := r.closeRound(ctx); err != nil {
			return err
		}
		if took := r.Clock.Now().Sub(begun); !resumed && !r.round.disturbed && (r.roundLength == 0 || took < r.roundLength) {
			r.roundLength = took
		}
		clear(made)
		r.Log.Info("round done", "round", r.round.number, "visits", r.visit)
	}
	return nil
}

// outOfTime tells whether the time left is too short for another round. A round is reckoned to
// take as long as the shortest so far that nothing disturbed; before there is one, the time is
// taken to be enough.
func (r *Recorder) outOfTime() bool {
	if r.Until.IsZero() || r.roundLength == 0 {
		return false
	}
	// With several sweeps in a visit, the last one may be left out.
	slack := time.Duration(0)
	if r.Plan.Sweeps > 1 {
		slack = r.roundLength / time.Duration(len(r.Plan.Setups)*r.Plan.Sweeps*r.Plan.VisitsPerRound())
	}
	return r.Clock.Now().Add(r.roundLength).After(r.Until.Add(slack))
}

// turns makes the visits of one round. order holds indices of the plan's setups. made counts by
// setup the sweeps of this round that an earlier run stored; they are not made again.
func (r *Recorder) turns(ctx context.Context, order []int, made map[survey.Setup]int) error {
	missed := 0
	for _, at := range order {
		if err := r.ended(); err != nil {
			return err
		}
		setup := r.Plan.Setups[at]
		there := min(made[setup], r.Plan.Sweeps)
		if there > 0 {
			made[setup] -= there
		}
		if there == r.Plan.Sweeps {
			continue
		}
		begun := r.Clock.Now()
		switch err := r.visitTo(ctx, setup, r.Plan.Sweeps-there); {
		case errors.Is(err, ErrNotReached):
			r.round.disturbed = true
			if missed++; missed == len(order) && r.visit == len(order)+r.begun-1 {
				return fmt.Errorf("no setup of the plan could be put in place: %w", err)
			}
			// It takes as long as a visit does: an outage must not use up the rounds.
			if err := r.wait(ctx, begun.Add(max(r.Plan.Every, r.visitLength))); err != nil {
				return err
			}
		case err != nil:
			return err
		}
	}
	return nil
}

// An openRound is the round that is being made. What was taken in it is held until its
// end, so that what is first heard late in it can be measured by force through the setups
// that had their turn before.
type openRound struct {
	number    int             // counts from 1 within the survey
	stored    bool            // a sweep of it was stored
	disturbed bool            // visits of it were missed
	taken     []*heldPassband // with their spectra
	views     []*heldPassband // those of them in which combs can be measured
}

// mostViews bounds the memory that the round's views take: some 90 kB each at 2.4 MS/s.
const mostViews = 100

// keep holds the passbands of a sweep that was stored until the round ends; stored are its
// readings. Views are held of the last sweep of each visit: combs are measured afterwards
// in those, the latest first.
func (o *openRound) keep(visit int, taken []*heldPassband, stored []survey.Reading) {
	o.stored = true
	o.views = slices.DeleteFunc(o.views, func(p *heldPassband) bool {
		if p.visit == visit {
			p.view = nil
		}
		return p.view == nil
	})
	for _, p := range taken {
		for i := range p.readings {
			p.readings[i].ID, stored = stored[0].ID, stored[1:]
		}
		p.visit = visit
		o.taken, o.views = append(o.taken, p), append(o.views, p)
		if len(o.views) > mostViews {
			o.views[0].view, o.views = nil, o.views[1:]
		}
	}
}

// closeRound measures by force, in all that was taken in the round, the carriers and combs of
// the lists that were not measured there yet, stores that, and lets go of what was taken. What
// was stored of a round is made complete even when the context is what ended it.
func (r *Recorder) closeRound(ctx context.Context) error {
	round := &r.round
	for _, p := range round.taken {
		late := p.force(&r.combs, round.number)
		for i := range p.readings {
			reading := &p.readings[i]
			had := len(reading.Carriers)
			force.Measure(reading, r.carriers.Missing(reading))
			r.journal.addLate(reading.ID, reading.Carriers[had:], late)
		}
	}
	round.taken, round.views = nil, nil
	r.carriers.Forget(round.number)
	r.combs.forget(round.number)
	return r.journal.storeLate(context.WithoutCancel(ctx))
}
