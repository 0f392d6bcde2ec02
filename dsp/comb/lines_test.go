package comb

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/fft"
)

// newDwell is the spectrum of a dwell of the demo: 0.2 s at 1.6 MS/s, 18 frames of 49 Hz.
func newDwell(seed, stream uint64, centre float64) *madeSpectrum {
	m := newMadeSpectrum(seed, stream, centre)
	m.width, m.looks = 1.6e6/32768, 18/fft.OverlapLoss
	m.first = centre - float64(len(m.mean)/2)*m.width
	return m
}

// A pull counts powers over the standard errors stated with them.
type pull struct{ sum, squares, n float64 }

func (p *pull) add(z float64) { p.sum, p.squares, p.n = p.sum+z, p.squares+z*z, p.n+1 }

// unbiased asks that the mean is 0 and the root of the mean square 1, to a tenth each.
func (p *pull) unbiased(t *testing.T, what string) {
	t.Helper()
	mean, rms := p.sum/p.n, math.Sqrt(p.squares/p.n)
	t.Logf("%s: mean %+.3f, rms %.3f of %.0f", what, mean, rms, p.n)
	if math.Abs(mean) > 0.1 || rms < 0.9 || rms > 1.1 {
		t.Errorf("%s: mean %+.3f, rms %.3f of %.0f; want 0 and 1", what, mean, rms, p.n)
	}
}

// Combs forced where there are none read zero, within the errors stated: narrow lines and
// lines of up to 1.2 kHz, in noise and where three of ten places of the raster are taken.
func TestForcedOnNothing(t *testing.T) {
	for _, occupancy := range []float64{0, 0.3} {
		for _, width := range []float64{0, 5} {
			var p pull
			for seed := range uint64(60) {
				m := newDwell(seed, 41, 11.6e6)
				m.addBroadcast(11e6, 12.2e6, 10e3, occupancy)
				v, r := m.view(), rand.New(rand.NewPCG(seed, 42))
				for range 40 {
					power, sigma, _ := v.Lines(Comb{Spacing: 40e3 * math.Exp(r.Float64()), Width: width * r.Float64()})
					p.add(power / sigma)
				}
			}
			// 60 spectra of 21,846 columns hold some 2,000 independent combs of 17 narrow lines
			// and 500 of wide ones: the mean scatters by 0.02 and 0.045.
			p.unbiased(t, map[bool]string{false: "noise", true: "among stations"}[occupancy > 0]+map[bool]string{false: ", narrow", true: ", wide"}[width > 0])
		}
	}
}

// A comb that is off reads nothing although a line of another, which is on, stands at one of
// its multiples, as where 176 times 65.013 kHz meets 101 times 113.290.
func TestForcedBesideAnotherComb(t *testing.T) {
	for _, over := range []float64{3, 10} {
		var p pull
		for seed := range uint64(300) {
			m := newDwell(seed, 43, 11.6e6)
			m.addComb(113.29e3, over, 0)
			power, sigma, _ := m.view().Lines(Comb{Spacing: 65.013e3})
			p.add(power / sigma)
		}
		p.unbiased(t, map[float64]string{3: "5 dB", 10: "10 dB"}[over])
	}
}

// Lines from 10 dB under the floor in one resolution to 20 dB over it read right within
// 0.2 dB beyond the mean's own scatter, narrow and wide.
func TestForcedLineLevels(t *testing.T) {
	dsptest.SkipIfShort(t)
	const spacing = 65.013e3
	for _, width := range []float64{0, 5} { // Hz of one multiple: 0.9 kHz of the 178th
		for _, level := range []float64{-10, 0, 10, 20} {
			over, sum, squares := math.Pow(10, level/10), 0.0, 0.0
			const trials = 150
			for seed := range uint64(trials) {
				m := newDwell(seed, 45, 11.6e6)
				m.addComb(spacing, 1.5*over, width) // one resolution is 1.5 columns
				power, _, _ := m.view().Lines(Comb{Spacing: spacing, Width: width})
				power /= 1.5e-9
				sum, squares = sum+power, squares+power*power
			}
			mean := sum / trials
			scatter := math.Sqrt((squares/trials - mean*mean) / trials)
			t.Logf("width %v, %+.0f dB: %.4f ± %.4f of %.4f", width, level, mean, scatter, over)
			if tolerance := over*(math.Pow(10, 0.02)-1) + 3*scatter; math.Abs(mean-over) > tolerance {
				t.Errorf("width %v, %+.0f dB: %.4f, want %.4f ± %.4f", width, level, mean, over, tolerance)
			}
		}
	}
}
