package comb

import (
	"math"
	"testing"
)

// Lines without programme in every second place of the raster of 10 kHz are a comb by their
// levels where half of them stand within 6 dB.
func TestRasterWindow(t *testing.T) {
	for _, test := range []struct {
		spread float64 // dB, of the levels
		comb   bool
	}{{5, true}, {9, true}, {16, false}} {
		m := newMadeSpectrum(1, 43, 9.65e6)
		for n := math.Ceil(8.85e6 / 20e3); n*20e3 <= 10.45e6; n++ {
			m.addLine(n*20e3, math.Pow(10, (25+test.spread*m.r.Float64())/10), 0)
		}
		s := newCombSearch([]*View{m.view()})
		s.rasterCombs()
		if p, _ := s.rasterPValue(4); (p <= certain) != test.comb {
			t.Errorf("levels over %v dB: P %.2g, want a comb %v", test.spread, p, test.comb)
		}
	}
}

// Lines that wobble are strongest at their ends: here 1.5 Hz of the fundamental on either
// side, three columns at 10 MHz. The spacing is that of their middles.
func TestSpacingOfWideLines(t *testing.T) {
	const spacing = 65.012e3
	for seed := range uint64(5) {
		m := newMadeSpectrum(seed, 47, 9.65e6)
		m.addComb(spacing-1.5, 10, 0)
		m.addComb(spacing+1.5, 10, 0)
		m.addComb(spacing, 1, 3)
		found := Seek([]*View{m.view()}, certain)
		if len(found) == 0 || math.Abs(found[0].Spacing-spacing) > 0.3 {
			t.Errorf("%+v, want %v ± 0.3 Hz", found, spacing)
		}
	}
}
