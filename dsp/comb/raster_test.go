package comb

import (
	"math"
	"testing"
)

// Lines without programme in every second place of the raster of 10 kHz are a comb by their
// levels where half of them stand within 6 dB.
func TestRasterWindow(t *testing.T) {
	for _, test := range []struct {
		every        int     // places of 5 kHz from line to line
		from, spread float64 // dB, the lowest level, and by how much others are higher
		comb         bool
	}{
		{4, 25, 5, true}, {4, 25, 9, true}, {4, 25, 16, false},
		{4, 3, 3, true},
		{30, 25, 1, true}, {90, 25, 1, false}, // ten lines, and three
	} {
		m := newMadeSpectrum(1, 43, 9.65e6)
		spacing := 5e3 * float64(test.every)
		for n := math.Ceil(8.85e6 / spacing); n*spacing <= 10.45e6; n++ {
			m.addLine(n*spacing, math.Pow(10, (test.from+test.spread*m.r.Float64())/10), 0)
		}
		s := newCombSearch([]*View{m.view()})
		s.raster = wideRaster
		s.rasterCombs()
		if p, _ := s.rasterPValue(test.every); (p <= certain) != test.comb {
			t.Errorf("%+v: P %.2g", test, p)
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

// Windows overlap: lines within 3 dB about the edge of one are in the next, though a seventh of
// all stand elsewhere.
func TestRasterWindowsOverlap(t *testing.T) {
	m := newMadeSpectrum(1, 43, 9.65e6)
	for n := math.Ceil(8.85e6 / 20e3); n*20e3 <= 10.45e6; n++ {
		level := 24.9 + 3*m.r.Float64()
		if int(n)%8 == 0 {
			level = 45
		}
		m.addLine(n*20e3, math.Pow(10, level/10), 0)
	}
	s := newCombSearch([]*View{m.view()})
	s.raster = wideRaster
	s.rasterCombs()
	if p, low := s.rasterPValue(4); p > certain {
		t.Errorf("P %.2g in the window from %v dB", p, low)
	}
}

// stationRow makes a search in noise with lines so many dB over it at even distances of 235 kHz,
// beside which the noise is so many times as strong from 150 Hz to 3 kHz.
func stationRow(level, beside float64) *combSearch {
	m := newMadeSpectrum(1, 73, 9.65e6)
	for n := math.Ceil(m.first / 235e3); n*235e3 < m.first+1.6e6; n++ {
		m.addLine(n*235e3, math.Pow(10, level/10), 0)
		for b := range m.mean {
			if away := math.Abs(m.first + float64(b)*m.width - n*235e3); away > 150 && away < 3e3 {
				m.mean[b] = beside
			}
		}
	}
	s := newCombSearch([]*View{m.view()})
	s.raster = wideRaster
	s.rasterCombs()
	return s
}

// A station is told by 1.5 dB beside a line of 15 dB or more.
func TestSidebandsOfARow(t *testing.T) {
	for _, test := range []struct {
		level, beside float64
		all           bool
	}{{20, 1, false}, {20, 1.9, true}, {12, 1.9, false}} {
		hits, sidebands := countInWindow(stationRow(test.level, test.beside).freePlaces(47), test.level-4)
		if hits < 6 || sidebands != 0 && !test.all || sidebands != hits && test.all {
			t.Errorf("%+v: %d of %d with sidebands", test, sidebands, hits)
		}
	}
}

// Of seven lines programme is told where it raises their feet by eight standard errors of their
// median, which has 2.4 %.
func TestProgrammeOfFewLines(t *testing.T) {
	for beside, want := range map[float64]bool{1: false, 1.21: true} {
		if got := stationRow(20, beside).hasProgramme(47, 16); got != want {
			t.Errorf("feet raised %v times: programme %v, want %v", beside, got, want)
		}
	}
}
