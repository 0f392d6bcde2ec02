package lines

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// A line 1.5 bins from one 14 or 15 dB stronger is no peak of the mean spectrum. It is sought
// where the strong one stands 20 dB over the floor and there are 20 frames.
func TestLineBesideStrongOne(t *testing.T) {
	const rate, n, bin = 75e3, 1024, 75e3 / 1024.0
	for _, test := range []struct {
		frames     int
		over, weak float64 // power of the strong line over the floor; dB of the other
		lines      int
	}{{72, 200, -14, 2}, {24, 1000, -15, 2}, {18, 1000, -15, 1}} {
		signal := dsptest.New(1, rate, 0).Tone(137*bin, 0, 0).Tone(138.5*bin, test.weak, 1)
		s := hannSpectrogram(signal.Samples(n/2*(test.frames+1)), rate, n)
		mean, floor := make([]float64, s.Bins), make([]float64, s.Bins)
		for b := range mean {
			floor[b] = 1 / test.over
			for f := range s.Frames {
				re, im := s.Row(f)
				mean[b] += float64(re[b]*re[b]+im[b]*im[b]) / float64(s.Frames)
			}
		}
		var l lineFinder
		if got := l.find(s, mean, floor); len(got) != test.lines {
			t.Errorf("%+v: %d lines", test, len(got))
		}
	}
}

// The skirt of a line that drifts by 12 Hz/s, as fast as lines are followed, is subtracted until
// less is left than passes for a line. The line stands between two bins, where its skirts are
// widest. Smoothed over ±12 frames, 80 ms, in place of ±4, its phase would turn by a quarter of a
// radian, and twice as much would be left.
func TestSkirtOfDriftingLine(t *testing.T) {
	const rate, n, frames, offset = 75e3, 1024, 72, 136.5 * 75e3 / 1024.0
	x := make([]complex64, n/2*(frames+1))
	for i := range x {
		at := (float64(i) - float64(len(x))/2) / rate
		sin, cos := math.Sincos(2 * math.Pi * (offset*at + maxDrift*at*at/2))
		x[i] = complex(float32(cos), float32(sin))
	}
	s := hannSpectrogram(x, rate, n)
	var p patch
	home := s.Column(offset)
	p.copyFrom(s, home-nearReach, home+nearReach+1)
	p.subtract(s, offset)
	p.sum()
	for _, c := range []int{nearReach - 3, nearReach + 3} {
		if left := p.power[c] / p.skirts[c]; left > skirtResidue {
			t.Errorf("%d columns from the line's %.2g of its skirt are left", c-nearReach, left)
		}
	}
}
