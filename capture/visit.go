package capture

import (
	"context"
	"fmt"
	"time"

	"nightfloor/survey"
)

// visitTo puts a setup in place and makes sweeps through it. cut tells why not
// all of them were made, "" where they were. A receiver that goes away is waited
// for, and the visit goes on.
func (r *Recorder) visitTo(ctx context.Context, asked survey.Setup, sweeps int) (cut string, err error) {
	begun := r.Clock.Now()
	setup, cut, err := r.change(ctx, asked)
	if err != nil || cut != "" {
		return cut, err
	}
	overloaded := map[string]bool{}
	for made := 0; made < sweeps; {
		n, err := r.listen(ctx, setup, sweeps-made, overloaded)
		made += n
		switch {
		case err == nil && made < sweeps:
			cut, _ = r.ended()
			return cut, nil
		case err == nil:
		case !r.heals(err):
			return "", err
		default:
			if cut, err = r.heal(ctx, err); cut != "" || err != nil {
				return cut, err
			}
		}
	}
	for _, segment := range r.sweeper.Ease(setup, overloaded) {
		r.Log.Warn("overload; gain lowered", "setup", setup.String(), "segment", segment)
	}
	r.usual = r.Clock.Now().Sub(begun)
	return "", r.wait(ctx, begun.Add(r.Plan.Every))
}

// listen makes sweeps through the setup in place, stores them and gives how many.
func (r *Recorder) listen(ctx context.Context, setup survey.Setup, sweeps int, overloaded map[string]bool) (made int, err error) {
	if err := r.sweeper.Prepare(ctx, setup); err != nil {
		return 0, err
	}
	stop := func() bool { _, yes := r.ended(); return yes }
	err = r.sweeper.Visit(ctx, setup, sweeps, stop, func(start time.Time, readings []survey.Reading) error {
		made++
		for _, reading := range readings {
			if reading.Quality.Has(survey.FlagOverload) {
				overloaded[reading.Segment.Name] = true
			}
		}
		return r.store(ctx, setup, start, readings)
	})
	return made, err
}

// patience is how long an operator who stops the survey waits at most for it to
// notice while it waits for the next visit.
const patience = time.Second

// wait lets time pass until the next visit is due or the survey is to end.
func (r *Recorder) wait(ctx context.Context, due time.Time) error {
	for {
		left := due.Sub(r.Clock.Now())
		if _, yes := r.ended(); yes || left <= 0 {
			return nil
		}
		r.live()
		if err := r.Clock.Sleep(ctx, min(left, patience)); err != nil {
			return fmt.Errorf("wait for the next visit: %w", err)
		}
	}
}

func (r *Recorder) live() {
	if r.Alive != nil {
		r.Alive()
	}
}

// store measures by force what is on the watch list, and stores the sweep.
func (r *Recorder) store(ctx context.Context, setup survey.Setup, start time.Time, readings []survey.Reading) error {
	sweep := &survey.Sweep{Survey: r.survey, Round: r.round, Visit: r.visit, Setup: setup, Start: start}
	for i := range readings {
		if err := r.stoodStill(ctx, readings[i].Start); err != nil {
			return err
		}
		r.watch.note(&readings[i], r.round)
		Force(&readings[i], r.watch.missing(&readings[i]))
		kept := readings[i]
		kept.Spectrum = Coarsen(readings[i].Spectrum, storedBins)
		sweep.Readings = append(sweep.Readings, kept)
		r.heard, r.heardIn, r.worked = kept.Start.Add(kept.Duration), r.visit, true
	}
	if err := r.Store.AddSweep(ctx, sweep); err != nil {
		return r.notStored(err, start)
	}
	r.held = true
	for i := range readings {
		readings[i].ID = sweep.Readings[i].ID
		r.taken = append(r.taken, &readings[i])
	}
	if r.Stored != nil {
		r.Stored(sweep)
	}
	if err := r.storedAgain(ctx); err != nil {
		return err
	}
	return r.watchClock(ctx)
}

// standstill is how far apart two readings of a visit are where neither a queue
// of 1.7 s nor a tuner explains it.
const standstill = 5 * time.Second

// stoodStill marks the gap before a reading where the host was suspended, or had
// no time for the survey.
func (r *Recorder) stoodStill(ctx context.Context, start time.Time) error {
	away := start.Round(0).Sub(r.heard.Round(0))
	if r.heardIn != r.visit || away < standstill || r.clock.moved(r.Clock.Now()) != 0 {
		return nil
	}
	r.Log.Warn("nothing was measured for a while: the host was suspended, or had no time", "for", away.Round(time.Second))
	return r.gap(ctx, r.heard, start, "the host stood still")
}

// closeRound measures carriers that were first heard late in the round through
// the setups that had their turn before. What was stored of a round is made
// complete even when the context is what ended it.
func (r *Recorder) closeRound(ctx context.Context) error {
	for _, reading := range r.taken {
		had := len(reading.Carriers)
		Force(reading, r.watch.missing(reading))
		if fresh := reading.Carriers[had:]; len(fresh) > 0 {
			r.pending[reading.ID] = append(r.pending[reading.ID], fresh...)
		}
	}
	r.taken = nil
	r.watch.forget(r.round)
	return r.storePending(context.WithoutCancel(ctx))
}

// storePending stores carriers measured by force; where the disk is full they
// wait for room.
func (r *Recorder) storePending(ctx context.Context) error {
	if len(r.pending) == 0 {
		return nil
	}
	if err := r.Store.AddCarriers(ctx, r.pending); err != nil {
		return r.notStored(err, r.Clock.Now())
	}
	clear(r.pending)
	return nil
}
