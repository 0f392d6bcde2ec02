package capturetest

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"sync"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A Fake listens to a Sky. Its methods are called from one goroutine, except Now.
type Fake struct {
	sky    Sky
	rng    *rand.Rand
	view   view
	wanted []change
	index  int64 // samples since the start, read or slept through
	reads  int
	closed bool

	mu   sync.Mutex
	time time.Duration // since the start
}

// A view is all that samples depend on.
type view struct {
	antenna string
	centre  survey.Hz
	gain    survey.DB
}

// A change of view takes effect in the sample of that index.
type change struct {
	index int64
	to    view
}

// New opens a fake under a sky, tuned nowhere, without an antenna.
func New(sky Sky) *Fake {
	return &Fake{sky: sky.filled(), rng: rand.New(rand.NewPCG(sky.Seed, 0x66616b65))}
}

// Info says that the receiver is simulated.
func (f *Fake) Info() capture.Info {
	return capture.Info{URI: "fake:", Name: "receiver for tests", SampleRate: f.sky.Rate, Gains: f.sky.Gains, GainsExact: true,
		Simulated: true, Stale: f.sky.Stale}
}

// Tune sets the centre frequency; samples of before still come for the stale time.
func (f *Fake) Tune(ctx context.Context, centre survey.Hz) (survey.Hz, error) {
	v := f.newest()
	v.centre = centre
	return centre, f.want(ctx, v)
}

// SetGain sets the nearest step.
func (f *Fake) SetGain(ctx context.Context, gain survey.DB) (survey.Gain, error) {
	v := f.newest()
	if len(f.sky.Gains) > 0 {
		v.gain = capture.NearestStep(f.sky.Gains, gain)
	}
	return survey.Gain{DB: v.gain, Known: true, Exact: true}, f.want(ctx, v)
}

// Change puts a setup in place.
func (f *Fake) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	v := f.newest()
	v.antenna = asked.Antenna
	return capture.Reached{Setup: asked}, f.want(ctx, v)
}

func (f *Fake) newest() view {
	if n := len(f.wanted); n > 0 {
		return f.wanted[n-1].to
	}
	return f.view
}

var errClosed = errors.New("receiver is closed")

func (f *Fake) want(ctx context.Context, v view) error {
	if f.closed {
		return errClosed
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	stale := int64(float64(f.sky.Rate) * f.sky.Stale.Seconds())
	f.wanted = append(f.wanted, change{f.index + stale, v})
	return ctx.Err()
}

// Read delivers the next len(buf)/2 samples, or what the script says.
func (f *Fake) Read(ctx context.Context, buf []byte) (dropped int64, err error) {
	f.reads++
	switch err := f.sky.Faults[f.reads]; {
	case f.closed:
		return 0, errClosed
	case ctx.Err() != nil:
		return 0, ctx.Err()
	case err != nil:
		return 0, err
	}
	f.mu.Lock() // a store of the test may sleep meanwhile
	defer f.mu.Unlock()
	for len(buf) > 0 {
		n := int64(len(buf) / 2)
		for len(f.wanted) > 0 && f.wanted[0].index <= f.index {
			f.view, f.wanted = f.wanted[0].to, f.wanted[1:]
		}
		if len(f.wanted) > 0 {
			n = min(n, f.wanted[0].index-f.index)
		}
		f.make(buf[:2*n])
		f.pass(n)
		buf = buf[2*n:]
	}
	return 0, nil
}

// make fills buf as the view in place hears the sky.
func (f *Fake) make(buf []byte) {
	rate := float64(f.sky.Rate)
	drift := 1.0
	if f.sky.Drift != nil {
		drift = linear(float64(f.sky.Drift(f.time)))
	}
	// Half of the noise's power in I, half in Q.
	sigma := math.Sqrt(f.sky.noise(f.view.antenna, f.view.gain) * drift * rate / 2)
	var tones, turns []complex128 // where each tone stands, and its turn in a sample
	for _, c := range f.sky.Carriers {
		offset := float64(c.At - f.view.centre)
		power := f.sky.Power(c, f.view.antenna, f.view.gain) * drift
		if power == 0 || math.Abs(offset) > rate/2 || f.time < c.From {
			continue
		}
		cycle := offset / rate
		tones = append(tones, cmplx.Rect(math.Sqrt(power), 2*math.Pi*math.Mod(cycle*float64(f.index), 1)))
		turns = append(turns, cmplx.Rect(1, 2*math.Pi*cycle))
	}
	for i := 0; i < len(buf); i += 2 {
		x := complex(sigma*f.rng.NormFloat64(), sigma*f.rng.NormFloat64())
		for k := range tones {
			x += tones[k]
			tones[k] *= turns[k]
		}
		buf[i], buf[i+1] = code(real(x)), code(imag(x))
	}
}

// code gives the 8-bit code of x: x = (c − 127.5)/128.
func code(x float64) byte { return byte(max(0, min(255, math.Round(128*x+127.5)))) }

// pass lets the time of n samples go by.
func (f *Fake) pass(n int64) {
	f.index += n
	f.time += time.Duration(math.Round(float64(n) / float64(f.sky.Rate) * 1e9))
}

// Now gives the fake's time.
func (f *Fake) Now() time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.sky.Start.Add(f.time)
}

// Sleep lets d go by at once; the samples of that time are gone.
func (f *Fake) Sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.time += d
	f.index += int64(d.Seconds() * float64(f.sky.Rate))
	return nil
}

// Reopen plugs it in again after Close.
func (f *Fake) Reopen() { f.closed = false }

// Close ends it; no Read follows.
func (f *Fake) Close() error {
	f.closed = true
	return nil
}
