package capture

import (
	"context"
	"fmt"
	"time"

	"nightfloor/dsp/comb"
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
		n, err := r.makeSweeps(ctx, setup, sweeps-made, overloaded)
		made += n
		switch {
		case err == nil && made < sweeps:
			cut, _ = r.ended()
			return cut, nil
		case err == nil:
		case !r.recoverable(err):
			return "", err
		default:
			if cut, err = r.recoverReceiver(ctx, err); cut != "" || err != nil {
				return cut, err
			}
		}
	}
	for _, segment := range r.sweeper.LowerGain(setup, overloaded) {
		r.Log.Warn("overload; gain lowered", "setup", setup.String(), "segment", segment)
	}
	r.visitLength = r.Clock.Now().Sub(begun)
	return "", r.wait(ctx, begun.Add(r.Plan.Every))
}

// makeSweeps makes sweeps through the setup in place, stores them and gives how many.
func (r *Recorder) makeSweeps(ctx context.Context, setup survey.Setup, sweeps int, overloaded map[string]bool) (made int, err error) {
	if err := r.sweeper.Prepare(ctx, setup); err != nil {
		return 0, err
	}
	stop := func() bool { _, yes := r.ended(); return yes }
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
		if _, yes := r.ended(); yes || left <= 0 {
			return nil
		}
		r.reportAlive()
		if err := r.Clock.Sleep(ctx, min(left, longestWait)); err != nil {
			return fmt.Errorf("wait for the next visit: %w", err)
		}
	}
}

func (r *Recorder) reportAlive() {
	if r.Alive != nil {
		r.Alive()
	}
}

// store measures by force what is on the watch lists, and stores the sweep.
func (r *Recorder) store(ctx context.Context, setup survey.Setup, bands []*heardPassband) error {
	sweep := &survey.Sweep{Survey: r.journal.survey, Round: r.round.number, Visit: r.visit, Setup: setup, Start: bands[0].readings[0].Start}
	taken := r.measureCombs(bands, sweep.Start)
	for _, p := range taken {
		for i := range p.readings {
			reading := &p.readings[i]
			if err := r.markStandstill(ctx, reading.Start); err != nil {
				return err
			}
			r.watch.note(reading, r.round.number)
			MeasureForced(reading, r.watch.missing(reading))
			kept := *reading
			kept.Spectrum = Coarsen(reading.Spectrum, storedBins)
			sweep.Readings = append(sweep.Readings, kept)
			r.last, r.worked = readingEnd{kept.Start.Add(kept.Duration), r.visit}, true
		}
	}
	if err := r.Store.AddSweep(ctx, sweep); err != nil {
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
func (r *Recorder) measureCombs(bands []*heardPassband, at time.Time) []*heldPassband {
	found := r.combs.find(bands, r.sought != r.visit, r.round.number, at)
	r.sought = r.visit
	for i := range found {
		found[i] = r.combs.withTrackWidth(found[i], at)
	}
	taken := make([]*heldPassband, len(bands))
	for i, p := range bands {
		combs := p.measureAll(found)
		var known []comb.Comb
		for _, m := range combs {
			known = append(known, m.comb)
		}
		for _, c := range r.combs.missing(known, r.round.number, at) {
			if m, ok := p.measure(c, 0); ok {
				combs = append(combs, m)
			}
		}
		taken[i] = p.hold(combs)
	}
	return taken
}

// standstill is how far apart two readings of a visit are when neither a queue of 1.7 s
// nor a tuner that takes long to lock explains it.
const standstill = 5 * time.Second

// markStandstill marks the gap before a reading where the host was suspended, or had
// no time for the survey.
func (r *Recorder) markStandstill(ctx context.Context, start time.Time) error {
	away := start.Round(0).Sub(r.last.end.Round(0))
	if r.last.visit != r.visit || away < standstill || r.clock.moved(r.Clock.Now()) != 0 {
		return nil
	}
	r.Log.Warn("nothing was measured for a while: the host was suspended, or had no time", "for", away.Round(time.Second))
	return r.journal.gap(ctx, r.last.end, start, "the host stood still")
}
