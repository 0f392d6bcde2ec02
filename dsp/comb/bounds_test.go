package comb

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/dsp/dsptest"
)

// strongComb finds combs in a spectrum with lines of 10 dB at the multiples of a spacing.
func strongComb(spacing float64) []Comb {
	m := newMadeSpectrum(1, 31, 9.65e6)
	m.addComb(spacing, 10, 0)
	return Seek([]*View{m.view()}, certain)
}

// Spacings up to 500 kHz are sought, of four lines and more, from 15 kHz on; closer ones
// down to 5 kHz are told where more stands at them than at their multiples.
func TestSpacingBounds(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, test := range []struct {
		spacing float64
		lines   int
		found   bool
	}{
		{390.1e3, 4, true}, {490.1e3, 3, false},
		{15.6e3, 102, true}, {5.6e3, 285, true}, {4.3e3, 372, false},
	} {
		if got := holds(strongComb(test.spacing), test.spacing); got != test.found {
			t.Errorf("%d lines every %v Hz: found %v, want %v", test.lines, test.spacing, got, test.found)
		}
	}
	for spacing, want := range map[float64]bool{485.1e3: true, 515.1e3: false} {
		var views []*View
		for k, centre := range []float64{7.32615e6, 9.65115e6} {
			m := newMadeSpectrum(uint64(k), 31, centre)
			m.addComb(spacing, 10, 0)
			views = append(views, m.view())
		}
		if got := holds(Seek(views, certain), spacing); got != want {
			t.Errorf("two tunings, %v Hz: found %v, want %v", spacing, got, want)
		}
	}
}

// Lines up to 60 MHz are sought.
func TestHighestLine(t *testing.T) {
	for centre, want := range map[float64]bool{57e6: true, 63e6: false} {
		m := newMadeSpectrum(1, 31, centre)
		m.addComb(65.012e3, 10, 0)
		if got := holds(Seek([]*View{m.view()}, certain), 65.012e3); got != want {
			t.Errorf("about %v MHz: found %v, want %v", centre/1e6, got, want)
		}
	}
}

// A comb known from before is found where it has drifted by 25 ppm, and not by 60.
func TestDriftReach(t *testing.T) {
	const spacing = 65.012e3
	for drift, want := range map[float64]bool{-25e-6: true, 25e-6: true, 60e-6: false} {
		m := newMadeSpectrum(5, 23, 9.65e6)
		m.addComb(spacing*(1+drift), 0.5, 0)
		if got := holds(SeekAgain([]*View{m.view()}, []Comb{{Spacing: spacing}}, certain), spacing); got != want {
			t.Errorf("drifted by %v: found %v, want %v", drift, got, want)
		}
	}
}

// Lines beside which 2.5 dB more stands from 400 Hz to 2.5 kHz than beside the others are left
// out, those with 0.6 dB more count.
func TestLinesByStations(t *testing.T) {
	const spacing = 65.012e3
	for beside, want := range map[float64]int{1.78: 16, 1.15: 25} {
		m := newMadeSpectrum(1, 37, 9.65e6)
		lines := m.addComb(spacing, 10, 0)
		for b := range m.mean { // beside nine of them
			hz := m.first + float64(b)*m.width
			if away := math.Abs(hz - spacing*math.Round(hz/spacing)); hz < 9.4e6 && away > 380 && away < 3e3 {
				m.mean[b] = beside
			}
		}
		if _, _, n := m.view().Lines(Comb{Spacing: spacing}); n < want-1 || n > want+1 {
			t.Errorf("%v times the noise beside some of %d lines: %d measured, want %d", beside, lines, n, want)
		}
	}
}

// A class of places holds stations where its median or its upper decile is higher than
// noise lets them be.
func TestClassOfStations(t *testing.T) {
	for _, test := range []struct {
		name      string
		shift     float64 // of all places
		top, tops float64 // a share of places, and their level
		stations  bool
	}{
		{"noise", 0, 0, 0, false},
		{"raised a little", 0.45, 0, 0, false}, {"raised", 0.75, 0, 0, true}, {"lowered", -0.75, 0, 0, true},
		{"weak stations", 0, 0.2, 2, false}, {"stations", 0, 0.2, 2.5, true}, {"a few stations", 0, 0.05, 20, false},
	} {
		const n = 400
		c := scorer{x: make([]float32, n)}
		places := make([]int32, n)
		for i := range n {
			p := (float64(i) + 0.5) / n
			x := distuv.UnitNormal.Quantile(p) + test.shift
			if p > 1-test.top {
				x = test.tops
			}
			c.x[i], places[i] = float32(x), int32(i)
		}
		if got := c.holdsStations(places); got != test.stations {
			t.Errorf("%s: stations %v, want %v", test.name, got, test.stations)
		}
	}
}

// Scores follow the noise: in a hump 30 kHz wide and 3 dB high they are as elsewhere.
func TestScoresInAHump(t *testing.T) {
	m := newMadeSpectrum(1, 41, 9.65e6)
	middle := len(m.mean) / 4
	half := int(15e3 / m.width)
	for b := middle - half; b < middle+half; b++ {
		m.mean[b] = 2
	}
	scores := scoreView(m.view(), 2, 0).score
	sum := 0
	for _, x := range scores[middle-half/2 : middle+half/2] {
		sum += int(x)
	}
	// The mean of 205 scores, of which neighbours share a column and more, scatters by 0.12.
	if mean := float64(sum) / float64(half/2*2) / scoreUnit; mean > 0.5 || mean < -0.5 {
		t.Errorf("mean score %.2f, want 0 ± 0.5", mean)
	}
}

// Sums at whole parts of a spacing that are near the raster are stations': two bands taken by
// them are no combs.
func TestPartsNearTheRaster(t *testing.T) {
	for _, seed := range []uint64{20105, 20167} {
		v, kind := cleanSpectrum(seed)
		if found := Seek([]*View{v}, 1e-2); len(found) > 0 {
			t.Errorf("%s, seed %d: %+v", kind, seed, found)
		}
	}
}
