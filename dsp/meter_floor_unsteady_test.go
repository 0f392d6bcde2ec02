package dsp

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/floor"
	"nightfloor/dsp/spectrum"
)

// unsteadyRate and unsteadyBand are what noise that is unsteady in time is
// simulated in: 300 kHz, in which steady noise scatters by
// 10·log10(1 + 1/√(300 kHz · 0.5 s)) = 0.011 dB in half a second.
const unsteadyRate = 512e3

var unsteadyBand = spectrum.Band{Low: sceneCentre - 150e3, High: sceneCentre + 150e3}

// unsteady makes white noise of density 1e-9 times a power that goes with time.
func unsteady(seed uint64, seconds float64, power func(t float64) float64) (x []complex64, truth float64) {
	r := rand.New(rand.NewPCG(seed, 99))
	n := int(unsteadyRate * seconds)
	x = make([]complex64, n)
	for i := range x {
		p := power(float64(i) / unsteadyRate)
		truth += p
		a := math.Sqrt(1e-9 * unsteadyRate * p / 2)
		x[i] = complex(float32(a*r.NormFloat64()), float32(a*r.NormFloat64()))
	}
	return x, 1e-9 * truth / float64(n)
}

// gate gives a power of up dB for a share of the time, rate times a second.
func gate(rate, duty, up float64) func(t float64) float64 {
	return func(t float64) float64 {
		if _, part := math.Modf(t*rate + 0.37); part < duty {
			return math.Pow(10, up/10)
		}
		return 1
	}
}

// slow gives a power that swings as a sine.
func slow(rate, depth float64) func(t float64) float64 {
	return func(t float64) float64 { return 1 + depth*math.Sin(2*math.Pi*rate*t+1) }
}

// step gives a power that rises by so many dB at a moment.
func step(at, up float64) func(t float64) float64 {
	return func(t float64) float64 {
		if t < at {
			return 1
		}
		return math.Pow(10, up/10)
	}
}

// measureUnsteady gives the error of a floor in dB, and the floor.
func measureUnsteady(t *testing.T, x []complex64, truth float64) (float64, *floor.Floor) {
	t.Helper()
	m := meterFor(t, unsteadyRate, len(x), unsteadyBand)
	m.Write(x)
	got, err := m.Finish()
	if err != nil {
		t.Fatal(err)
	}
	f := got.Bands[0].Floor
	if f == nil {
		t.Fatal("no floor")
	}
	return 10 * math.Log10(f.Density/truth), f
}

// Noise that goes on counts with the mean over the recording's time, however its
// power goes: with harmonics of the mains, slowly, at once.
func TestUnsteadyNoiseCounts(t *testing.T) {
	for _, test := range fewerIfShort(5, []struct {
		name    string
		seconds float64
		power   func(t float64) float64
	}{
		{"150 Hz, 10 dB", 0.5, gate(150, 0.3, 10)},
		{"200 Hz, two bursts a half period", 0.5, gate(200, 0.1, 10)},
		{"300 Hz, three phases", 0.5, gate(300, 0.3, 10)},
		{"400 Hz, 10 dB", 0.5, gate(400, 0.3, 10)},
		{"25 Hz, 6 dB", 0.5, gate(25, 0.3, 6)},
		{"10 Hz, 10 dB", 0.5, gate(10, 0.3, 10)},
		{"2 Hz sine", 1, slow(2, 0.8)},
		{"5 Hz sine", 1, slow(5, 0.8)},
		{"20 Hz sine", 1, slow(20, 0.8)},
		{"3 Hz weak sine", 1, slow(3, 0.3)},
		{"step in the middle", 0.5, step(0.25, 6)},
		{"step", 2, step(0.61, 6)},
		{"step between chunks", 1, step(0.5, 3)},
		{"weak gating", 2, gate(120, 0.3, 3)},
	}) {
		for seed := range uint64(2) {
			x, truth := unsteady(seed+1, test.seconds, test.power)
			e, f := measureUnsteady(t, x, truth)
			// Three sigma; and at most what is not known of the ends, 8 ms in 500
			// at 10 dB over the quiet, a third of the time being such: 0.016·9/3.7,
			// 0.17 dB. sigma may hold that what comes ten times a second is foreign.
			if math.Abs(e) > max(0.05, 3*f.Sigma) || math.Abs(e) > 0.17 {
				t.Errorf("%s, seed %d: floor %.3f dB off, sigma %.3f", test.name, seed, e, f.Sigma)
			}
		}
	}
}

// transmission adds noise of up dB over the floor, width Hz wide about offset
// (0: the whole passband), from at on for seconds, with edges of 3 ms.
func transmission(x []complex64, seed uint64, at, seconds, offset, width, up float64) {
	r := rand.New(rand.NewPCG(seed, 7))
	from, n := int(at*unsteadyRate), int(seconds*unsteadyRate)
	share := 1.0
	taps := 1
	if width > 0 {
		share = width / unsteadyRate
		taps = int(2 / share)
	}
	noise := make([]complex128, n+taps)
	for i := range noise {
		noise[i] = complex(r.NormFloat64(), r.NormFloat64())
	}
	// A raised cosine of 2/width passes width hertz; unit gain in the middle.
	h := make([]float64, taps)
	sum := 0.0
	for k := range h {
		h[k] = 1 - math.Cos(2*math.Pi*(float64(k)+0.5)/float64(taps))
		sum += h[k]
	}
	a := math.Sqrt(1e-9 * unsteadyRate / 2 * math.Pow(10, up/10))
	for i := range n {
		var y complex128
		for k, g := range h {
			y += noise[i+k] * complex(g/sum, 0)
		}
		edge := min(1, float64(min(i, n-1-i))/(3e-3*unsteadyRate))
		sin, cos := math.Sincos(2 * math.Pi * offset / unsteadyRate * float64(i))
		x[from+i] += complex64(y * complex(a*edge*cos, a*edge*sin))
	}
}

// Foreign short transmissions do not count, whatever their width, wherever they
// begin, nor in the level between bursts.
func TestShortTransmissionsDoNotCount(t *testing.T) {
	for _, test := range []struct {
		name          string
		seconds       float64
		at            []float64
		lasts         float64
		offset, width float64
		up            float64
	}{
		{"10 kHz, early in a turn", 0.5, []float64{0.200}, 0.02, 80e3, 10e3, 25},
		{"10 kHz, late in a turn", 0.5, []float64{0.232}, 0.02, 80e3, 10e3, 25},
		{"10 kHz, over the turns' edge", 0.5, []float64{0.212}, 0.02, 80e3, 10e3, 25},
		{"50 kHz", 0.5, []float64{0.31}, 0.05, -60e3, 50e3, 15},
		{"100 kHz", 1, []float64{0.2, 0.7}, 0.06, 60e3, 100e3, 25},
		{"whole passband, 3 dB", 0.5, []float64{0.12}, 0.06, 0, 0, 3},
		{"whole passband, 20 dB", 0.5, []float64{0.12}, 0.06, 0, 0, 20},
		{"between chunks", 1, []float64{0.47}, 0.06, 0, 0, 20},
		{"three a second", 2, []float64{0.1, 0.35, 0.9, 1.21, 1.48, 1.83}, 0.05, 0, 0, 15},
	} {
		x, truth := unsteady(5, test.seconds, func(float64) float64 { return 1 })
		for i, at := range test.at {
			transmission(x, uint64(i), at, test.lasts, test.offset, test.width, test.up)
		}
		e, f := measureUnsteady(t, x, truth)
		// Four sigma of steady noise, of which a third of the frames may be left
		// out: 0.014 dB; what is under the limits adds 0.02 dB.
		if math.Abs(e) > 0.075 || f.Sigma > 0.05 {
			t.Errorf("%s: floor %.3f dB off, sigma %.3f", test.name, e, f.Sigma)
		}
		// Quiet is from 12 channels of 10 kHz: 0.1 s of them scatter by 0.04 dB.
		if q := 10 * math.Log10(f.Quiet/truth); math.Abs(q) > 0.2 {
			t.Errorf("%s: quiet %.3f dB off", test.name, q)
		}
	}
}

// Strong pulses are left out alike, though chunks hold from 4 to 14 of them:
// 18 a second, at random, of a millisecond.
func TestManyStrongPulses(t *testing.T) {
	for seed := range uint64(4) {
		x, truth := unsteady(seed+20, 2, func(float64) float64 { return 1 })
		r := rand.New(rand.NewPCG(seed, 3))
		for k := range 36 {
			transmission(x, uint64(k), 1.99*r.Float64(), 1e-3, 0, 0, 40)
		}
		// 0.0055 dB of sigma in 2 s, half of the frames left out: 0.008 dB.
		if e, f := measureUnsteady(t, x, truth); math.Abs(e) > 0.04 {
			t.Errorf("seed %d: floor %.3f dB off, sigma %.3f", seed, e, f.Sigma)
		}
	}
}

// The level between bursts is seen in gaps of a millisecond.
func TestQuietInShortGaps(t *testing.T) {
	for _, mains := range []float64{100, 120} {
		x, _ := unsteady(31, 0.5, gate(mains, 0.9, 10))
		_, f := measureUnsteady(t, x, 1e-9)
		// The channels of 10 kHz see 0.1 ms into the gap from either side, at
		// 10 dB; the blocks of 0.25 ms meet it at any phase: 1 dB.
		if q := 10 * math.Log10(f.Quiet/1e-9); math.Abs(q) > 1 {
			t.Errorf("%v Hz: quiet %.2f dB off", mains, q)
		}
	}
}
