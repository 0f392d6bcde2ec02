package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
)

// The rate of impulses is right within 10 %, and so is what they stand over the noise.
func TestImpulses(t *testing.T) {
	for _, test := range fewerIfShort(3, []struct {
		rate    float64
		length  float64
		seconds float64
		regular bool
	}{
		{500, 5e-5, 0.5, true}, {37, 5e-5, 0.5, true}, {11, 5e-4, 0.5, true},
		{100, 5e-5, 0.5, true}, {5, 5e-5, 1, true}, {100, 5e-5, 0.5, false}, {300, 5e-5, 0.5, false},
	}) {
		const over = 100.0 // 20 dB
		s := dsptest.New(2, 1.024e6, sceneCentre).Noise(1e-10)
		s.Pulses(dsptest.Pulses{Rate: test.rate, Length: test.length, Density: over * 1e-10, Poisson: !test.regular})
		got := findingsIn(t, s, test.seconds, interference.Options{}).Impulses
		truth := float64(len(s.Truth().Pulses)) / test.seconds
		if test.regular {
			truth = test.rate
		}
		if got == nil || got.P > 1e-6 {
			t.Errorf("%+v: not found: %+v", test, got)
			continue
		}
		// At random, √n more or less of them fall together or where none is watched.
		tolerance := 0.1 * truth
		if !test.regular {
			tolerance += math.Sqrt(truth*test.seconds) / test.seconds / 2
		}
		if math.Abs(got.Rate-truth) > tolerance || got.Regular != test.regular {
			t.Errorf("%+v: %.1f a second, want %.1f; regular %v", test, got.Rate, truth, got.Regular)
		}
		// A channel's filter, 10 kHz of noise bandwidth, answers an impulse with a pulse of
		// some 0.1 ms: of 50 µs about half the power density is seen at its peak, of 500 µs
		// all of it, and the greatest of some ten values a bit more.
		low, high := 0.25*over, 0.75*over
		if test.length > 1e-4 {
			low, high = 0.8*over, 2*over
		}
		if got.Strength < low || got.Strength > high {
			t.Errorf("%+v: %.0f times the noise, want %.0f to %.0f", test, got.Strength, low, high)
		}
	}
}

// An impulse is seen wherever it comes, also where chunks of half a second meet, and none
// twice: only the first and the last half frame are not watched, 8 ms with the edges.
func TestImpulsesWhereChunksMeet(t *testing.T) {
	for _, rate := range []float64{100, 73} {
		const seconds = 2.2
		s := dsptest.New(4, 1.024e6, sceneCentre).Noise(1e-10).Pulses(dsptest.Pulses{Rate: rate, Length: 5e-5, Density: 1e-7})
		got := findingsIn(t, s, seconds, interference.Options{}).Impulses
		want := 0
		for _, p := range s.Truth().Pulses {
			if p > 0.009 && p < seconds-0.02 { // what fills no whole frame at the end is not seen
				want++
			}
		}
		if got == nil || got.Count < want || got.Count > len(s.Truth().Pulses) || math.Abs(got.Rate-rate) > 0.01*rate {
			t.Errorf("%v a second: %+v, want %d impulses", rate, got, want)
		}
	}
}

// One click in one reading is one impulse; many readings' worth of a fence recur.
func TestFence(t *testing.T) {
	s := dsptest.New(3, 250e3, sceneCentre).Noise(1e-9).Pulses(dsptest.Pulses{Rate: 1.2, Length: 1e-4, Density: 1e-6})
	one := findingsIn(t, s, 0.5, interference.Options{}).Impulses // the first comes after 0.42 s
	if one == nil || one.Count != 1 || one.Regular || math.Abs(one.Rate-2) > 0.2 {
		t.Errorf("one click in half a second: %+v", one)
	}
	s = dsptest.New(3, 250e3, sceneCentre).Noise(1e-9).Pulses(dsptest.Pulses{Rate: 1.2, Length: 1e-4, Density: 1e-6})
	many := findingsIn(t, s, 8, interference.Options{}).Impulses
	if many == nil || many.Count < 9 || many.Count > 10 || !many.Regular || math.Abs(many.Rate-1.2) > 0.02 {
		t.Errorf("a fence for 8 s: %+v", many)
	}
}

// What is no impulse: a packet that fills a third of the passband, one that lasts 3 ms,
// mains bursts of 2 ms and more, the edges of all these.
func TestNoImpulses(t *testing.T) {
	dsptest.SkipIfShort(t)
	quiet := func(float64) float64 { return 1 }
	for _, width := range fewerIfShort(1, []float64{110e3, 20e3}) {
		x, _ := unsteady(4, 0.5, quiet)
		for k := range 6 { // 6.6 ms with their edges of 3 ms
			transmission(x, uint64(k), 0.05+0.07*float64(k), 6.6e-3, 60e3, width, 25)
		}
		for k := range 6 {
			short(x, uint64(k), 0.08+0.07*float64(k), 0.5e-3, 60e3, width)
		}
		if i := findingsOf(t, x).Impulses; i != nil {
			t.Errorf("packets %.0f kHz wide: %+v", width/1e3, *i)
		}
	}
	for _, duty := range fewerIfShort(1, []float64{0.2, 0.3, 0.5, 0.7}) {
		for _, up := range []float64{3, 6, 10, 20} {
			x, _ := unsteady(5, 0.5, gate(100, duty, up))
			if i := findingsOf(t, x).Impulses; i != nil {
				t.Errorf("bursts of %v ms, %v dB: %+v", 10*duty, up, *i)
			}
		}
	}
	for _, power := range fewerIfShort(1, []func(float64) float64{gate(20, 0.06, 5), gate(20, 0.06, 20), slow(20, 0.8), step(0.2, 10)}) {
		x, _ := unsteady(6, 0.5, power)
		if i := findingsOf(t, x).Impulses; i != nil {
			t.Errorf("unsteady noise: %+v", *i)
		}
	}
}

// short adds a packet as short as an impulse, 30 dB over the noise, width Hz wide about
// offset: tones 2 kHz apart, phases of a chirp.
func short(x []complex64, seed uint64, at, seconds, offset, width float64) {
	from, n := int(at*unsteadyRate), int(seconds*unsteadyRate)
	tones := int(width / 2e3)
	amplitude := math.Sqrt(1e-9 * 1000 * width / float64(tones))
	for k := range tones {
		hz := offset + width*(float64(k)/float64(tones)-0.5)
		for i := range n {
			sin, cos := math.Sincos(2*math.Pi*hz/unsteadyRate*float64(i) + float64(k*k)*0.7 + float64(seed))
			rise := math.Sin(math.Pi * (float64(i) + 0.5) / float64(n))
			x[from+i] += complex64(complex(amplitude*rise*cos, amplitude*rise*sin))
		}
	}
}

// Pulses twice a mains period are mains-modulated noise, and impulses too where they
// stand out singly.
func TestTriac(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, test := range []struct {
		up       float64 // dB
		impulses bool
	}{{20, true}, {6, false}} {
		x, _ := unsteady(7, 0.5, gate(100, 0.03, test.up)) // 0.3 ms
		f := findingsOf(t, x)
		if f.Mains.P > 1e-4 || f.Mains.Shape != "two spikes" {
			t.Errorf("%v dB: %+v", test.up, *f.Mains)
		}
		if found := f.Impulses != nil; found != test.impulses {
			t.Errorf("%v dB: impulses %+v", test.up, f.Impulses)
		}
		if f.Impulses != nil && (!f.Impulses.Regular || math.Abs(f.Impulses.Rate-100) > 1) {
			t.Errorf("%v dB: impulses %+v", test.up, *f.Impulses)
		}
	}
}
