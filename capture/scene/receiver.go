package scene

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// staleTime is how long samples from before a change keep coming: a queue of
// 12 buffers of 16 KiB at 2.4 MS/s.
const staleTime = 41 * time.Millisecond

// clockError is the error of the receiver's crystal: a reference oscillator of
// good make, warmed up.
const clockError = 0.3e-6

// gainSteps are the tuner's steps (PHYSICS.md 7.3). In the scene, unlike in a
// tuner, they are what they say.
var gainSteps = []survey.DB{0, 0.9, 1.4, 2.7, 3.7, 7.7, 8.7, 12.5, 14.4, 15.7, 16.6, 19.7, 20.7, 22.9, 25.4,
	28.0, 29.7, 32.8, 33.8, 36.4, 37.2, 38.6, 40.2, 42.1, 43.4, 43.9, 44.5, 48.0, 49.6}

var errClosed = errors.New("receiver is closed")

// Tune sets the centre frequency, 3 to 30 MHz.
func (h *House) Tune(ctx context.Context, centre survey.Hz) (survey.Hz, error) {
	if !(centre >= 3e6 && centre <= 30e6) {
		return 0, fmt.Errorf("tune to %v: out of the scene's range; choose 3 MHz to 30 MHz", centre)
	}
	return centre, h.schedule(ctx, func(v *view) { v.centre = float64(centre) })
}

// SetGain sets the nearest of the steps.
func (h *House) SetGain(ctx context.Context, gain survey.DB) (survey.Gain, error) {
	if math.IsNaN(float64(gain)) {
		return survey.Gain{}, errors.New("gain: not a number; choose one of the receiver's steps")
	}
	step := capture.NearestStep(gainSteps, gain)
	return survey.Gain{DB: step, Known: true, Exact: true}, h.schedule(ctx, func(v *view) { v.gain = float64(step) })
}

// Change puts a setup in place. Samples from before the change are still in the
// receiver's queue, as they are after a change of tuning.
func (h *House) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	at, err := mount(asked)
	if err != nil {
		return capture.Reached{}, err
	}
	if err := h.schedule(ctx, func(v *view) { v.at = at }); err != nil {
		return capture.Reached{}, err
	}
	return capture.Reached{Setup: asked}, nil
}

// CheckSetups names every setup that the scene does not have.
func (h *House) CheckSetups(setups []survey.Setup) error {
	var errs []error
	for _, s := range setups {
		if _, err := mount(s); err != nil {
			errs = append(errs, fmt.Errorf("setup %v: %w", s, err))
		}
	}
	return errors.Join(errs...)
}

// schedule changes the view that was asked for last, and lets that take effect once the
// queue of stale samples has run out.
func (h *House) schedule(ctx context.Context, set func(*view)) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if h.closed {
		return errClosed
	}
	due := change{index: h.index() + int64(h.rate*staleTime.Seconds()), to: h.view}
	if n := len(h.pending); n > 0 {
		due.to = h.pending[n-1].to
	}
	set(&due.to)
	h.pending = append(h.pending, due)
	return nil
}

// settle lets changes that are due take effect, and tells whether there were any.
func (h *House) settle() bool {
	n := 0
	for n < len(h.pending) && h.pending[n].index <= h.index() {
		h.view = h.pending[n].to
		n++
	}
	h.pending = slices.Delete(h.pending, 0, n)
	return n > 0
}

// restart makes samples anew from here on.
func (h *House) restart() {
	h.synth.start(h.view, h.index())
	h.undelivered = 0
}

// Read delivers the next len(buf)/2 samples. None is ever dropped.
func (h *House) Read(ctx context.Context, buf []byte) (dropped int64, err error) {
	if len(buf)%2 != 0 {
		return 0, fmt.Errorf("read %d bytes: not whole samples; give a buffer of even length", len(buf))
	}
	if h.closed {
		return 0, errClosed
	}
	for len(buf) > 0 {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if h.settle() || h.skipped {
			h.restart()
			h.skipped = false
		}
		n := min(len(buf)/2, h.available())
		from := hop - h.undelivered
		h.synth.quantise(buf[:2*n], h.synth.outRe[from:from+n], h.synth.outIm[from:from+n])
		h.undelivered -= n
		h.read.Add(int64(n))
		buf = buf[2*n:]
	}
	return 0, nil
}

// available gives the number of samples that can be delivered as they are,
// after having some made if there are none.
func (h *House) available() int {
	if h.undelivered == 0 {
		h.synth.next()
		h.undelivered = hop
	}
	if len(h.pending) > 0 {
		return int(min(int64(h.undelivered), h.pending[0].index-h.index()))
	}
	return h.undelivered
}

// index gives the number of samples since the start, slept through or read.
func (h *House) index() int64 {
	slept := time.Duration(h.slept.Load()).Seconds()
	return h.read.Load() + int64(math.Round(slept*h.rate))
}

// Now gives the scene's time.
func (h *House) Now() time.Time {
	read := time.Duration(math.Round(float64(h.read.Load()) / h.rate * 1e9))
	return h.world.start.Add(read + time.Duration(h.slept.Load()))
}

// Sleep lets time pass in the scene and returns at once. The samples of that
// time go by unasked for; they do not count as dropped.
func (h *House) Sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if d > 0 {
		h.slept.Add(int64(d))
		h.skipped = true
	}
	return nil
}
