package capture

import (
	"context"
	"time"

	"nightfloor/survey"
)

// A Steady clock also counts time from some fixed moment on, which nobody can set; the
// host's sleep counts.
type Steady interface{ Elapsed() time.Duration }

// A clockWatch notices when the wall clock is set.
type clockWatch struct {
	steady  Steady // nil: the clock cannot be set
	began   time.Time
	elapsed time.Duration
	off     time.Duration // of the wall clock against the steady one, since it began
	doubt   bool          // it was set, and the readings before are not marked yet
}

// leastStep is the least that counts as a step; less is a clock that is kept right.
const leastStep = time.Second

func (w *clockWatch) begin(c Clock) {
	w.began = c.Now().Round(0)
	if steady, ok := c.(Steady); ok {
		w.steady, w.elapsed = steady, steady.Elapsed()
	}
}

// moved gives by how much the wall clock was set since the last call of step, 0 if it
// was not.
func (w *clockWatch) moved(now time.Time) time.Duration {
	if w.steady == nil {
		return 0
	}
	by := now.Round(0).Sub(w.began) - (w.steady.Elapsed() - w.elapsed) - w.off
	if by.Abs() < leastStep {
		return 0
	}
	return by
}

// step gives by how much the wall clock was set since the last call, 0 where it
// was not.
func (w *clockWatch) step(now time.Time) time.Duration {
	if w.steady == nil {
		return 0
	}
	by := w.moved(now)
	w.off = now.Round(0).Sub(w.began) - (w.steady.Elapsed() - w.elapsed)
	return by
}

// watchClock marks the readings of this run whose wall time is in doubt: those
// from before the clock was set.
func (r *Recorder) watchClock(ctx context.Context) error {
	if by := r.clock.step(r.Clock.Now()); by != 0 {
		r.clock.doubt = true
		r.Log.Warn("the clock was set; earlier readings of this run are marked", "by", by.Round(time.Millisecond))
	}
	if !r.clock.doubt {
		return nil
	}
	stored, err := r.journal.flagFrom(ctx, r.begun, survey.FlagClockSet, r.Clock.Now())
	r.clock.doubt = !stored
	return err
}
