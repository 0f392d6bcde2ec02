package capture

import (
	"context"
	"time"

	"nightfloor/survey"
)

// A Clock is where the recorder takes its time from.
type Clock interface {
	Now() time.Time
	Sleep(ctx context.Context, d time.Duration) error
}

// A Steady clock also counts time from some fixed moment on, which nobody can set; the
// host's sleep counts.
type Steady interface{ Elapsed() time.Duration }

// A WallClock is the host's own. Its times carry the monotonic clock beside the
// wall clock, so that differences are right whatever the wall clock does.
type WallClock struct{}

var (
	_ Clock  = WallClock{}
	_ Steady = WallClock{}
)

var programStart = time.Now()

// Now gives the time.
func (WallClock) Now() time.Time { return time.Now() }

// Sleep waits for d, or until the context ends.
func (c WallClock) Sleep(ctx context.Context, d time.Duration) error {
	_, err := c.Wait(ctx, nil, d)
	return err
}

// Wait waits until something comes, for d at most, and tells whether it did.
func (WallClock) Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-came:
		return true, nil
	case <-ctx.Done():
		return false, ctx.Err()
	case <-timer.C:
		return false, nil
	}
}

// Await waits until a call is done, for d at most, and tells whether it is.
func (c WallClock) Await(ctx context.Context, done <-chan struct{}, d time.Duration) (bool, error) {
	return c.Wait(ctx, done, d)
}

// A stepDetector notices when the wall clock is set.
type stepDetector struct {
	began  time.Time
	steady Steady        // nil: the clock cannot be set
	off    time.Duration // what ahead gave last
	doubt  bool          // it was set, and the readings before are not marked yet
}

// leastStep is the least that counts as a step; less is a clock that is kept right.
const leastStep = time.Second

func newStepDetector(c Clock) *stepDetector {
	d := &stepDetector{began: c.Now().Round(0)}
	d.steady, _ = c.(Steady)
	d.off = d.ahead(d.began)
	return d
}

// ahead gives by how much the wall clock has run ahead of the steady one.
func (d *stepDetector) ahead(now time.Time) time.Duration {
	if d.steady == nil {
		return 0
	}
	return now.Round(0).Sub(d.began) - d.steady.Elapsed()
}

// step gives by how much the wall clock was set since off was taken, 0 if it was not.
func (d *stepDetector) step(now time.Time) time.Duration {
	if by := d.ahead(now) - d.off; by.Abs() >= leastStep {
		return by
	}
	return 0
}

// watchClock marks the readings of this run whose wall time is in doubt: those
// from before the clock was set.
func (r *Recorder) watchClock(ctx context.Context) error {
	now := r.Clock.Now()
	if by := r.steps.step(now); by != 0 {
		r.steps.doubt = true
		if !now.Before(r.behind) {
			r.behind = time.Time{}
		}
		r.Log.Warn("the clock was set; earlier readings of this run are marked", "by", by.Round(time.Millisecond))
	}
	r.steps.off = r.steps.ahead(now)
	if !r.steps.doubt {
		return nil
	}
	stored, err := r.journal.flagFrom(ctx, r.begun, survey.FlagClockSet, now)
	r.steps.doubt = !stored
	return err
}
