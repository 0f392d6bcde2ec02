package capture

import (
	"context"
	"fmt"
	"slices"
	"time"

	"nightfloor/dsp/interference"
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
	err = r.sweeper.visit(ctx, setup, sweeps, stop, func(bands []*passband) error {
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

// store measures by force what is on the watch lists, and stores the sweep.
func (r *Recorder) store(ctx context.Context, setup survey.Setup, bands []*passband) error {
	sweep := &survey.Sweep{Survey: r.survey, Round: r.round, Visit: r.visit, Setup: setup, Start: bands[0].readings[0].Start}
	r.measureCombs(bands, sweep.Start)
	for _, p := range bands {
		for i := range p.readings {
			reading := &p.readings[i]
			if err := r.stoodStill(ctx, reading.Start); err != nil {
				return err
			}
			r.watch.note(reading, r.round)
			Force(reading, r.watch.missing(reading))
			kept := *reading
			kept.Spectrum = Coarsen(reading.Spectrum, storedBins)
			sweep.Readings = append(sweep.Readings, kept)
			r.heard, r.heardIn, r.worked = kept.Start.Add(kept.Duration), r.visit, true
		}
	}
	if err := r.Store.AddSweep(ctx, sweep); err != nil {
		return r.notStored(err, sweep.Start)
	}
	r.held = true
	r.keep(bands, sweep.Readings)
	if r.Stored != nil {
		r.Stored(sweep)
	}
	if err := r.storedAgain(ctx); err != nil {
		return err
	}
	return r.watchClock(ctx)
}

// measureCombs seeks combs in a sweep, new ones in the first of a visit, and measures in
// each of its passbands those that were found and those that are known.
func (r *Recorder) measureCombs(bands []*passband, at time.Time) {
	found := r.combs.find(bands, r.sought != r.visit, r.round, at)
	r.sought = r.visit
	for _, p := range bands {
		for _, c := range found {
			p.measure(r.combs.widened(c, at), interference.Confidence(c.P))
		}
		for _, c := range r.combs.missing(p.combs, r.round, at) {
			p.measure(c, 0)
		}
		p.share()
	}
}

// mostViews bounds the memory that the round's views take: some 90 kB each at 2.4 MS/s.
const mostViews = 100

// keep holds the passbands of a sweep until the round ends; stored are its readings.
// Views are held of the last sweep of each visit: combs are measured afterwards in
// those, the latest first.
func (r *Recorder) keep(bands []*passband, stored []survey.Reading) {
	r.views = slices.DeleteFunc(r.views, func(p *passband) bool {
		if p.visit == r.visit {
			p.view = nil
		}
		return p.view == nil
	})
	for _, p := range bands {
		for i := range p.readings {
			p.readings[i].ID, stored = stored[0].ID, stored[1:]
		}
		p.visit = r.visit
		r.taken, r.views = append(r.taken, p), append(r.views, p)
		if len(r.views) > mostViews {
			r.views[0].view, r.views = nil, r.views[1:]
		}
	}
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

// closeRound measures carriers and combs that were first heard late in the round
// through the setups that had their turn before. What was stored of a round is made
// complete even when the context is what ended it.
func (r *Recorder) closeRound(ctx context.Context) error {
	for _, p := range r.taken {
		late := p.forceCombs(&r.combs, r.round)
		for i := range p.readings {
			reading := &p.readings[i]
			had := len(reading.Carriers)
			Force(reading, r.watch.missing(reading))
			if fresh := reading.Carriers[had:]; len(fresh) > 0 {
				r.pending[reading.ID] = append(r.pending[reading.ID], fresh...)
			}
			if len(late) > 0 {
				r.late[reading.ID] = append(r.late[reading.ID], late...)
			}
		}
	}
	r.taken, r.views = nil, nil
	r.watch.forget(r.round)
	r.combs.forget(r.round)
	return r.storePending(context.WithoutCancel(ctx))
}

// storePending stores what was measured by force afterwards; where the disk is full it
// waits for room.
func (r *Recorder) storePending(ctx context.Context) error {
	if len(r.pending) > 0 {
		if err := r.Store.AddCarriers(ctx, r.pending); err != nil {
			return r.notStored(err, r.Clock.Now())
		}
		clear(r.pending)
	}
	if len(r.late) > 0 {
		if err := r.Store.AddFindings(ctx, r.late); err != nil {
			return r.notStored(err, r.Clock.Now())
		}
		clear(r.late)
	}
	return nil
}
