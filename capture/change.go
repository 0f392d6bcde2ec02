package capture

import (
	"context"
	"errors"
	"fmt"
	"time"

	"nightfloor/survey"
)

// change puts a setup in place, and stores what was reached as the next visit. The
// error wraps ErrNotReached where it is not known what is in place; cut tells why the
// survey is to end before the change is done.
func (r *Recorder) change(ctx context.Context, asked survey.Setup) (setup survey.Setup, cut string, err error) {
	visit := survey.Visit{Survey: r.journal.survey, Number: r.visit + 1, Round: r.round.number, Asked: asked, Start: r.Clock.Now()}
	reached, cut, err := r.awaitChange(ctx, asked)
	if reached.DoubtBefore && r.visit >= r.begun {
		if _, err := r.journal.flagFrom(context.WithoutCancel(ctx), r.visit, survey.FlagSetupDoubt, visit.Start); err != nil {
			return survey.Setup{}, "", err
		}
	}
	switch {
	case cut != "":
		return survey.Setup{}, cut, nil
	case errors.Is(err, ErrNotReached):
		visit.Said = err.Error()
		if was := r.missing[asked]; was.why != visit.Said { // another reason than before
			r.missing[asked] = fault{since: visit.Start, why: visit.Said}
			r.Log.Warn("fault began: antenna not in place; its visits are left out", "asked", asked.String(), "why", visit.Said)
		}
	case err != nil:
		return survey.Setup{}, "", fmt.Errorf("change to %v: %w", asked, err)
	default:
		visit.Reached, visit.Bearing, visit.Said = reached.Setup, reached.Bearing, reached.Said
		r.reached(asked, reached)
	}
	r.visit++
	if storeErr := r.journal.addVisit(ctx, visit); storeErr != nil {
		return survey.Setup{}, "", storeErr
	}
	return visit.Reached, "", err
}

// reached logs that a setup is in place after it was not, or that another one is.
func (r *Recorder) reached(asked survey.Setup, reached Reached) {
	if was, ok := r.missing[asked]; ok {
		r.Log.Warn("fault cleared: antenna", "asked", asked.String(), "after", r.Clock.Now().Sub(was.since).Round(time.Second))
		delete(r.missing, asked)
	}
	if reached.Setup != asked {
		r.Log.Warn("another setup is in place than was asked for; sweeps bear what is in place", "asked", asked.String(), "in place", reached.Setup.String(), "why", reached.Said)
	}
}

// pollInterval is how often is looked whether the survey is to end while the antenna
// is changed.
const pollInterval = 200 * time.Millisecond

// awaitChange lets the changer work, and ends it where the survey is to end before.
// Time is asked for beforehand: the clock may be the changer's as well.
func (r *Recorder) awaitChange(ctx context.Context, asked survey.Setup) (reached Reached, cut string, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var due <-chan time.Time
	if !r.Until.IsZero() {
		timer := time.NewTimer(r.Until.Sub(r.Clock.Now()))
		defer timer.Stop()
		due = timer.C
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		reached, err = r.Changer.Change(ctx, asked)
	}()
	look := time.NewTicker(pollInterval)
	defer look.Stop()
	for cut == "" {
		select {
		case <-done:
			return reached, "", err
		case <-due:
			cut = endTime
		case <-look.C:
			if r.reportAlive(); r.Stop != nil && r.Stop() {
				cut = endStopped
			}
		}
	}
	cancel()
	<-done
	return Reached{}, cut, nil
}

// gainFrom gives the setups whose gains a terminator takes over: those with an
// antenna. A pilot sweep would give it the highest gain, at which its levels would
// compare with the antennas' through the labels of gain steps only. A gain that the
// plan prescribes for the terminator goes first.
func (r *Recorder) gainFrom(s survey.Setup) (others []survey.Setup) {
	if r.Plan.Antenna(s.Antenna).Kind != survey.KindTerminator {
		return nil
	}
	for _, g := range r.Plan.Gains {
		if g.Antenna == s.Antenna {
			return nil
		}
	}
	for _, other := range r.Plan.Setups {
		if r.Plan.Antenna(other.Antenna).Kind != survey.KindTerminator {
			others = append(others, other)
		}
	}
	return others
}
