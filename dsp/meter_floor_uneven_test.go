package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/stat"
)

// humpOf gives noise of a density (dBFS/Hz) with a hump so many dB high, its height
// in dB halved at half the width (Hz) from its middle (Hz).
func humpOf(density, height, middle, width float64) func(hz float64) float64 {
	return func(hz float64) float64 {
		u := (hz - middle) / width
		return stat.FromDB(density + height*math.Exp2(-4*u*u))
	}
}

// blockOf gives noise with a block of steep edges.
func blockOf(density, height, middle, width float64) func(hz float64) float64 {
	return func(hz float64) float64 {
		if math.Abs(hz-middle) < width/2 {
			return stat.FromDB(density + height)
		}
		return stat.FromDB(density)
	}
}

// rippleOf gives noise that rises and sinks by ±swing dB.
func rippleOf(density, swing, period float64) func(hz float64) float64 {
	return func(hz float64) float64 { return stat.FromDB(density + swing*math.Sin(2*math.Pi*hz/period)) }
}

// Noise with structure over frequency is noise: nothing of it is thrown away, and
// what signals hide of it is filled in from beside them.
func TestFloorOfUnevenNoise(t *testing.T) {
	dsptest.SkipIfShort(t)
	const density = -95 // dBFS/Hz; rounding to 8 bits adds −117
	for _, test := range fewerIfShort(3, []struct {
		name      string
		shape     func(hz float64) float64
		occupancy float64 // of all the band by stations
	}{
		{"ripple ±1 dB, 40 kHz", rippleOf(density, 1, 40e3), 0},
		{"ripple ±1.5 dB, 100 kHz", rippleOf(density, 1.5, 100e3), 0.3},
		{"ripple ±1.5 dB, 100 kHz", rippleOf(density, 1.5, 100e3), 0.55},
		{"block 3 dB, 40 kHz", blockOf(density, 3, 9.75e6, 40e3), 0},
		{"block 6 dB, 100 kHz", blockOf(density, 6, 9.75e6, 100e3), 0},
		{"block 6 dB, 100 kHz", blockOf(density, 6, 9.75e6, 100e3), 0.3},
		{"hump 12 dB, 100 kHz", humpOf(density, 12, 9.55e6, 100e3), 0},
		{"hump 12 dB, 100 kHz", humpOf(density, 12, 9.55e6, 100e3), 0.2},
		{"hump 12 dB, 100 kHz", humpOf(density, 12, 9.72e6, 100e3), 0.4},
		{"hump 12 dB, 100 kHz", humpOf(density, 12, 9.55e6, 100e3), 0.6},
		{"hump 8 dB, 100 kHz", humpOf(density, 8, 9.6e6, 100e3), 0.4},
		{"hump 4 dB, 100 kHz", humpOf(density, 4, 9.7e6, 100e3), 0.6},
		{"hump 6 dB, 50 kHz", humpOf(density, 6, 9.55e6, 50e3), 0.3},
	}) {
		sc := scene{name: test.name, rate: 1.024e6, seconds: 0.5, low: 9400, high: 9900, u8: true}
		sc.tolerance = 0.1
		if test.occupancy > 0 {
			sc.tolerance = 0.3
		}
		sc.make = func(seed uint64, rate float64) *dsptest.Signal {
			return dsptest.New(seed, rate, sceneCentre).Shaped(test.shape).Stations(9.4e6, 9.9e6, test.occupancy, stat.FromDB(density))
		}
		const readings = 2
		s := scoreScene(t, sc, 500, readings)
		t.Logf("%-24s %2.0f %%: error %+.4f dB mean, %.3f worst; sigma %.4f; rms pull %.2f",
			sc.name, 100*test.occupancy, s.sum/s.n, s.worst, s.sigma/s.n, math.Sqrt(s.pulls/s.n))
		// The mean square of two normal pulls passes 6.9 once in a thousand.
		if s.pulls/s.n > 6.9 {
			t.Errorf("%s at %.0f %%: rms pull %.1f: sigma is too small", sc.name, 100*test.occupancy, math.Sqrt(s.pulls/s.n))
		}
	}
}

// Transmissions 10 kHz wide with steep edges are signals: on level noise from half
// the noise up, on a hump 200 kHz wide from as much as the noise up.
func TestFloorWithoutWeakBlocks(t *testing.T) {
	dsptest.SkipIfShort(t)
	const density = -95.0
	for _, test := range fewerIfShort(2, []struct{ over, hump float64 }{ // dB, over the top of the noise
		{-3, 0}, {0, 0}, {3, 0}, {10, 0}, {0, 8}, {3, 8}, {10, 8},
	}) {
		s := dsptest.New(77, 1.024e6, sceneCentre).Shaped(humpOf(density, test.hump, 9.7e6, 200e3))
		for _, hz := range []float64{9.45e6, 9.53e6, 9.59e6, 9.72e6, 9.8e6} {
			s.Data(hz, 10e3, density+40+test.hump+test.over)
		}
		b := measureBand(t, s, 0.5, sceneBand)
		truth := s.Density(sceneBand.Low, sceneBand.High, dsptest.StepU8)
		// One sigma is 0.01 dB; half the noise in 50 of 500 kHz would be 0.2 dB.
		if e := 10 * math.Log10(b.Floor.Density/truth); math.Abs(e) > 0.05 {
			t.Errorf("%+.0f dB, hump of %.0f dB: floor %.3f dB off, sigma %.3f", test.over, test.hump, e, b.Floor.Sigma)
		}
	}
}
