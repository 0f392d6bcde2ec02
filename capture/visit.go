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

// visitTo puts a setup in place and makes sweeps through it. Where the receiver goes away,
// it waits until the receiver is back and makes the remaining sweeps.
func (r *Recorder) visitTo(ctx context.Context, asked survey.Setup, sweeps int) error {
	begun := r.Clock.Now()
	setup, err := r.change(ctx, asked)
	if err != nil {
		return err
	}
	overloaded := map[string]bool{}
	for made := 0; made < sweeps; {
		n, err := r.makeSweeps(ctx, setup, sweeps-made, overloaded)
		made += n
		if err == nil && made < sweeps {
			return r.ended()
		}
		if r.recoverable(err) {
			err = r.recoverReceiver(ctx, err)
		}
		if err != nil {
			return err
		}
	}
	r.ease(setup, overloaded)
	r.visitLength = r.Clock.Now().Sub(begun)
	return r.wait(ctx, begun.Add(r.Plan.Every))
}

// ease lowers the gain where segments were overloaded. Where it stays that is said once.
func (r *Recorder) ease(setup survey.Setup, overloaded map[string]bool) {
	eased, left := r.sweeper.LowerGain(setup, overloaded)
	for _, segment := range eased {
		r.Log.Warn("overload; gain lowered", "setup", setup.String(), "segment", segment)
	}
	for _, segment := range left {
		where := setup.String() + " " + segment
		if !slices.Contains(r.overdriven, where) {
			r.overdriven = append(r.overdriven, where)
			r.Log.Warn("overload, and the gain stays as it is; its readings are marked; weaken what reaches the receiver, or choose a lower gain", "setup", setup.String(), "segment", segment)
		}
	}
}

// makeSweeps makes sweeps through the setup in place, stores them and gives how many.
func (r *Recorder) makeSweeps(ctx context.Context, setup survey.Setup, sweeps int, overloaded map[string]bool) (made int, err error) {
	if err := r.sweeper.Prepare(ctx, setup); err != nil {
		return 0, err
	}
	stop := func() bool { return r.ended() != nil }
	err = r.sweeper.visit(ctx, setup, sweeps, stop, func(bands []*heardPassband) error {
		made++
		for _, p := range bands {
			for _, reading := range p.readings {
				if reading.Quality.Has(survey.FlagOverload) {
					overloaded[reading.Segment.Name] = true
				}
			}
		}
		return r.store(ctx, setup, bands)
	})
	return made, err
}

// longestWait is how long an operator who stops the survey waits at most for it to
// notice while it waits for the next visit.
const longestWait = time.Second

// wait lets time pass until the next visit is due or the survey is to end.
func (r *Recorder) wait(ctx context.Context, due time.Time) error {
	for {
		left := due.Sub(r.Clock.Now())
		if r.ended() != nil || left <= 0 {
			return nil
		}
		r.Alive()
		if err := r.Clock.Sleep(ctx, min(left, longestWait)); err != nil {
			return fmt.Errorf("wait for the next visit: %w", err)
		}
	}
}

// store measures by force what is on the watch lists, and stores the sweep.
func (r *Recorder) store(ctx context.Context, setup survey.Setup, bands []*heardPassband) error {
	if !r.away.begun.IsZero() {
		r.Log.Warn("fault cleared: receiver", "after", r.Clock.Now().Sub(r.away.begun).Round(time.Second))
	}
	if err := r.closeGap(ctx, bands[0].readings[0].Start); err != nil {
		return err
	}
	sweep := &survey.Sweep{Survey: r.journal.survey, Round: r.round.number, Visit: r.visit, Setup: setup, Start: bands[0].readings[0].Start}
	taken := r.measureCombs(bands, sweep.Start)
	for _, p := range taken {
		for i := range p.readings {
			reading := &p.readings[i]
			if err := r.markStandstill(ctx, reading.Start); err != nil {
				return err
			}
			r.carriers.Note(reading, r.round.number)
			force.Measure(reading, r.carriers.Missing(reading))
			kept := *reading
			if !r.behind.IsZero() {
				kept.Quality.Flags = append(slices.Clip(kept.Quality.Flags), survey.FlagClockSet)
			}
			kept.Spectrum = Coarsen(reading.Spectrum, storedBins)
			sweep.Readings = append(sweep.Readings, kept)
			r.last, r.worked = readingEnd{kept.Start.Add(kept.Duration), r.visit}, true
		}
	}
	begun := r.Clock.Now()
	defer func() { r.storing = r.Clock.Now().Sub(begun) }()
	switch err := r.Store.AddSweep(ctx, sweep); {
	case errors.Is(err, survey.ErrInvalid):
		return r.journal.leftOut(ctx, err, sweep.Start, r.last.end)
	case err != nil:
		return r.journal.notStored(err, sweep.Start)
	}
	r.round.keep(r.visit, taken, sweep.Readings)
	if r.Stored != nil {
		r.Stored(sweep)
	}
	if err := r.journal.recovered(ctx); err != nil {
		return err
	}
	return r.watchClock(ctx)
}

// measureCombs seeks combs in a sweep, new ones in the first of a visit, and measures in
// each of its passbands those that were found and those that are known.
func (r *Recorder) measureCombs(bands []*heardPassband, at time.Time) (taken []*heldPassband) {
	found := r.combs.find(bands, r.sought != r.visit, r.round.number, at)
	r.sought = r.visit
	for _, p := range bands {
		combs := p.measureFound(found)
		missing := r.combs.missing(combsIn(combs), r.round.number, at)
		taken = append(taken, p.hold(append(combs, p.measureForced(missing)...)))
	}
	return taken
}

// standstill is how far apart two readings of a visit must be to count as a gap. A queue of
// 1.7 s, or a tuner that takes long to lock, keeps them apart for less. Chosen.
const standstill = 5 * time.Second

// markStandstill marks the gap before a reading where the host was suspended, or had
// no time for the survey, or the store had none.
func (r *Recorder) markStandstill(ctx context.Context, start time.Time) error {
	away := start.Round(0).Sub(r.last.end.Round(0))
	if r.last.visit != r.visit || away < standstill || r.steps.step(r.Clock.Now()) != 0 {
		return nil
	}
	if away-r.storing < standstill {
		if !r.journal.outage.since.IsZero() { // this is part of its gap
			return nil
		}
		r.Log.Warn("the database took long to store a sweep: another program held it locked, or the disk is slow", "for", r.storing.Round(time.Second))
		return r.journal.gap(ctx, r.last.end, start, "the database took long to store a sweep")
	}
	r.Log.Warn("nothing was measured for a while: the host was suspended, or had no time", "for", away.Round(time.Second))
	return r.journal.gap(ctx, r.last.end, start, "the host stood still")
}

// change puts a setup in place and stores the next visit, with what was asked for and what was
// reached, which it gives. The error wraps ErrNotReached where nobody knows what is in place; that
// visit is stored too. Where the survey is to end before the change is done, the error is an
// ending, and no visit is stored.
func (r *Recorder) change(ctx context.Context, asked survey.Setup) (survey.Setup, error) {
	visit := survey.Visit{Survey: r.journal.survey, Number: r.visit + 1, Round: r.round.number, Asked: asked, Start: r.Clock.Now()}
	r.Visiting(visit, false)
	reached, err := r.awaitChange(ctx, asked)
	if reached.DoubtBefore && r.visit >= r.begun {
		if _, err := r.journal.flagFrom(context.WithoutCancel(ctx), r.visit, survey.FlagSetupDoubt, visit.Start); err != nil {
			return survey.Setup{}, err
		}
	}
	var early ending
	switch {
	case errors.As(err, &early):
		return survey.Setup{}, early
	case errors.Is(err, ErrNotReached):
		visit.Said = err.Error()
		if was := r.missing[asked]; was.why != visit.Said && !errors.Is(err, ErrLeftOut) { // another reason than before
			r.missing[asked] = fault{since: visit.Start, why: visit.Said}
			r.Log.Warn("fault began: antenna not in place; its visits are left out", "asked", asked.String(), "why", visit.Said)
		}
	case err != nil:
		return survey.Setup{}, fmt.Errorf("change to %v: %w", asked, err)
	default:
		visit.Reached, visit.Bearing, visit.Said = reached.Setup, reached.Bearing, reached.Said
		r.reached(asked, reached)
	}
	visit.Wiring = r.wiring.inPlace
	r.Visiting(visit, true)
	r.visit++
	if storeErr := r.journal.addVisit(ctx, visit); storeErr != nil {
		return survey.Setup{}, storeErr
	}
	return visit.Reached, err
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

// pollInterval is how often the recorder looks whether it is to stop while the antenna is
// changed.
const pollInterval = 200 * time.Millisecond

// awaitChange lets the changer work, and breaks it off where the survey is to end before.
// Time is asked for beforehand: the clock may be the changer's as well.
func (r *Recorder) awaitChange(ctx context.Context, asked survey.Setup) (reached Reached, err error) {
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
		if err = r.rewire(ctx); err == nil {
			reached, err = r.Changer.Change(ctx, asked)
		}
	}()
	look := time.NewTicker(pollInterval)
	defer look.Stop()
	var early error
	for early == nil {
		select {
		case <-done:
			return reached, err
		case <-due:
			early = endTime
		case <-look.C:
			if r.Alive(); r.Stop != nil && r.Stop() {
				early = endStopped
			}
		}
	}
	cancel()
	<-done
	return Reached{}, early
}
