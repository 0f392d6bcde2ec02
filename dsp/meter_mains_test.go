package dsp

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// Known depth in, known depth out, at the mains' own frequency; so is the square of the swing.
func TestMainsModulation(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, test := range fewerIfShort(2, []struct {
		rate  float64
		gated dsptest.Gated
		shape string
	}{
		{1.024e6, dsptest.Gated{Mains: 50.03, Depth: 1}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 60.2, Depth: 0.6}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 49.6, Depth: 0.3}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 50, Depth: 0.1}, "two humps"},
		{2.4e6, dsptest.Gated{Mains: 50, Depth: 0.1}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 50, Duty: 0.3, Between: -20}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 60, Duty: 0.5, Between: -6}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 60, Duty: 0.3, Between: -3}, "two humps"},
		{1.024e6, dsptest.Gated{Mains: 60, Duty: 0.06, Between: -20}, "two spikes"}, // 0.5 ms
	}) {
		g := test.gated
		g.Mean, g.Phase = 1e-9, 0.3
		in, between := g.Mean*(1+g.Depth), g.Mean*(1-g.Depth)
		swing := g.Mean * g.Depth
		if g.Duty > 0 {
			ratio := stat.FromDB(g.Between)
			in = g.Mean / (g.Duty + (1-g.Duty)*ratio)
			between = in * ratio
			// First harmonic of a square of duty d: 2·sin(πd)/π of its height.
			swing = 2 * math.Sin(math.Pi*g.Duty) / math.Pi * (in - between)
		}
		depth := (in - between) / (in + between)
		m := findingsIn(t, dsptest.New(1, test.rate, sceneCentre).Gated(g), 0.5, interference.Options{}).Mains
		if m == nil || m.P > 1e-6 {
			t.Errorf("%+v: not found: %+v", g, m)
			continue
		}
		// The phases of both halves tell the frequency: of |c|² = ρ noises σ is √(2/ρ)/(π·0.5 s);
		// depth 0.1 has |c|² = 0.0025 over 1/(B·T) = 1/(32·10 kHz·0.5 s), ρ = 400: 0.05 Hz.
		if math.Abs(m.Envelope-2*g.Mains) > 0.2 || m.Mains != math.Round(g.Mains/10)*10 {
			t.Errorf("%+v: beat of %.2f Hz, mains %v", g, m.Envelope, m.Mains)
		}
		if math.Abs(m.Depth-depth) > 0.05 || m.Shape != test.shape {
			t.Errorf("%+v: depth %.3f, want %.3f ± 0.05; %q", g, m.Depth, depth, m.Shape)
		}
		// 4 σ, and 4 % for what falls between trial frequencies and into blocks.
		if e := m.Square - swing*swing; math.Abs(e) > 4*m.Sigma+0.04*swing*swing {
			t.Errorf("%+v: square %.3g ± %.2g, want %.3g", g, m.Square, m.Sigma, swing*swing)
		}
		low, high := spectrum.Usable(test.rate)
		if m.Low > sceneCentre+0.8*low || m.High < sceneCentre+0.8*high {
			t.Errorf("%+v: seen from %.0f to %.0f Hz", g, m.Low, m.High)
		}
	}
}

// Where there is none the square is 0 within its standard error, on either side.
func TestSquareOfNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: statistics of many readings")
	}
	const readings = 48
	sum, squares, variance, negative := 0.0, 0.0, 0.0, 0
	for seed := range uint64(readings) {
		m := findingsIn(t, dsptest.New(seeds()+seed, 0.25e6, sceneCentre).Noise(1e-9), 0.5, interference.Options{Mains: 50}).Mains
		if interference.Confidence(m.P) >= 0.999 || m.Shape != "" || m.Envelope != 100 || m.Mains != 50 {
			t.Errorf("seed %d: %+v", seed, *m)
		}
		sum, squares, variance = sum+m.Square, squares+m.Square*m.Square, variance+m.Sigma*m.Sigma
		if m.Square < 0 {
			negative++
		}
	}
	// |noise|² − v has mean 0 and variance v², v the mean of |noise|². The variance stated is
	// 2·max(0, |noise|² − v)·v + v²: on the average (2/e + 1)·v², so that the ratio is
	// 0.58; its scatter is that of the exponential's fourth power, √(9 − 1)/√48 of it.
	ratio := squares / variance
	t.Logf("mean %.2f standard errors of it, mean square %.2f of that stated, %d of %d negative", sum/math.Sqrt(variance), ratio, negative, readings)
	if math.Abs(sum) > 4*math.Sqrt(variance) || ratio < 0.2 || ratio > 0.58*(1+4*0.41) || negative < readings/4 {
		t.Errorf("sum %.2f standard errors, mean square %.2f of that stated, %d negative", sum/math.Sqrt(variance), ratio, negative)
	}
}

// What does not come with the mains is not taken for it, be it regular, at random or
// slow.
func TestNoMainsInOtherSwings(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, test := range fewerIfShort(3, []struct {
		name  string
		power func(seed uint64) func(t float64) float64
	}{
		{"25 Hz", func(uint64) func(float64) float64 { return gate(25, 0.3, 6) }},
		{"33.3 Hz, short, whose third harmonic is 100 Hz", func(uint64) func(float64) float64 { return gate(33.33, 0.02, 15) }},
		{"packets of 3 ms at random", packets},
		{"step of 10 dB", func(uint64) func(float64) float64 { return step(0.2, 10) }},
		{"20 Hz, short, whose harmonics are 100 and 120 Hz", func(uint64) func(float64) float64 { return gate(20, 0.02, 20) }},
		{"105 Hz", func(uint64) func(float64) float64 { return gate(105, 0.3, 6) }},
		{"3 Hz", func(uint64) func(float64) float64 { return slow(3, 0.8) }},
	}) {
		for seed := range uint64(2) {
			x, _ := unsteady(seeds()+seed, 0.5, test.power(seeds()+seed))
			if m := findingsOf(t, x).Mains; m == nil || interference.Confidence(m.P) >= 0.999 {
				t.Errorf("%s, seed %d: %+v", test.name, seed, m)
			}
		}
	}
}

// packets gives a power that is 10 dB up for 3 ms, 20 ms apart on the average.
func packets(seed uint64) func(t float64) float64 {
	r := rand.New(rand.NewPCG(seed, 5))
	on, until := false, 0.0
	return func(t float64) float64 {
		for t >= until {
			if on = !on; on {
				until += 3e-3
			} else {
				until += 20e-3 * r.ExpFloat64()
			}
		}
		if on {
			return 10
		}
		return 1
	}
}

// The phase of the modulation may wander with the mains: over many chunks modulation is found
// that is too weak for one, and the course of the power is not smeared.
func TestMainsOverChunks(t *testing.T) {
	s := dsptest.New(5, 250e3, sceneCentre).Gated(dsptest.Gated{Mean: 1e-9, Mains: 50, Depth: 0.04})
	weak := findingsIn(t, s, 6, interference.Options{}).Mains
	// |c|² = 0.0004 over 1/(12·10 kHz·0.5 s): ρ = 24 in each of 12 chunks.
	if weak.P > 1e-9 || math.Abs(weak.Depth-0.04) > 0.01 {
		t.Errorf("depth 0.04 in 6 s: %+v", *weak)
	}
	if testing.Short() {
		return
	}
	wander := func(t float64) float64 {
		if _, part := math.Modf(100*t + 0.3*math.Sin(2*math.Pi*t/20)); part < 0.06 { // ±0.1 Hz
			return 10
		}
		return 1
	}
	x, _ := unsteady(6, 4, wander)
	if m := findingsOf(t, x).Mains; m.P > 1e-9 || m.Shape != "two spikes" || math.Abs(m.Depth-9.0/11) > 0.1 {
		t.Errorf("spikes of wandering mains: %+v", *m)
	}
}

// The shapes of the power's course over a mains period are told apart.
func TestMainsShapes(t *testing.T) {
	dsptest.SkipIfShort(t)
	once := func(duty float64) func(t float64) float64 { return gate(50, duty, 10) }
	twice := func(t float64) float64 { return gate(50, 0.03, 10)(t) + gate(50, 0.03, 10)(t+0.0085) }
	for _, test := range []struct {
		power func(t float64) float64
		shape string
	}{
		{once(0.03), "one spike"}, {once(0.2), "one hump"}, {gate(100, 0.05, 10), "two spikes"},
		{gate(100, 0.4, 10), "two humps"}, {twice, "two spikes"},
	} {
		x, _ := unsteady(8, 0.5, test.power)
		if m := findingsOf(t, x).Mains; m.P > 1e-4 || m.Shape != test.shape {
			t.Errorf("%q for %q, P %.2g", m.Shape, test.shape, m.P)
		}
	}
}
