package comb

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/fft"
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
	scores := new(scorer).scoreView(m.view(), 2).score
	sum := 0
	for _, x := range scores[middle-half/2 : middle+half/2] {
		sum += int(x)
	}
	// The mean of 205 scores, of which neighbours share a column and more, scatters by 0.12.
	if mean := float64(sum) / float64(half/2*2) / scoreUnit; mean > 0.5 || mean < -0.5 {
		t.Errorf("mean score %.2f, want 0 ± 0.5", mean)
	}
}

// In a band full of stations the sums at spacings near a candidate's scatter by more than those
// of its octave: two such bands are no combs.
func TestSpreadNearASpacing(t *testing.T) {
	for _, seed := range []uint64{404725, 404883} {
		v, kind := cleanSpectrum(seed)
		if found := Seek([]*View{v}, 1e-2); len(found) > 0 {
			t.Errorf("%s, seed %d: %+v", kind, seed, found)
		}
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

// A kept line is a comb's within two columns of its multiple, whatever the channel passes.
func TestKeptLineOffItsMultiple(t *testing.T) {
	const spacing, n = 65.012e3, 64
	m := newMadeSpectrum(3, 53, 9.65e6)
	m.addComb(spacing, 100, 0)
	v := m.view()
	for off, want := range map[float64]bool{1.5: true, 3.5: false} {
		s := lineStretch{rate: 2343.75, enbw: v.enbw}
		for _, at := range v.multiplesOf(spacing) {
			p := keptLine{at: at + off, mean: 100e-9, power: make([]float32, n)}
			for i := range p.power {
				p.power[i] = 100e-9
			}
			s.lines = append(s.lines, p)
		}
		c := Comb{Spacing: spacing}
		if got := v.lineChannels(&s, c, v.combLines(c)) != nil; got != want {
			t.Errorf("%v columns off: taken %v, want %v", off, got, want)
		}
	}
}

// What rises by the noise over 17 columns is no line: a line's power is that of seven.
func TestWideRiseIsNotKept(t *testing.T) {
	var a Accumulator
	if got := a.chooseLines(levelRise(5000-8, 5000+9, 2)); len(got) > 0 {
		t.Errorf("kept at %v", got)
	}
}

// levelRise gives a flat view with a level in the columns from … to−1.
func levelRise(from, to int, level float64) *View {
	return flatView(func(power []float64) { raise(power, from, to, level) })
}

// A spacing is refined by up to two columns at the highest multiple, not by more: there another
// candidate stands.
func TestRefinementsReach(t *testing.T) {
	const spacing = 65.012e3
	m := newMadeSpectrum(3, 59, 9.65e6)
	m.addComb(spacing, 30, 0)
	v := m.view()
	s := newCombSearch([]*View{v})
	for off, found := range map[float64]bool{1.7: true, -1.7: true, 4: false} { // columns
		about := spacing * (1 + off*v.width/s.top)
		got, _ := s.refineSpacing(about, 0, 10)
		if errs := math.Abs(got/spacing-1) * s.top / v.width; (errs < 0.3) != found {
			t.Errorf("%v columns off: %.2f are left, want it found %v", off, errs, found)
		}
	}
}

// The centroid of a wide line does not reach to what stands six columns beyond its edge.
func TestCentroidOfAWideLine(t *testing.T) {
	const spacing, wide = 65.012e3, 3.0 // six columns at 9.65 MHz
	m := newMadeSpectrum(3, 61, 9.65e6)
	m.addComb(spacing, 20, wide)
	for n := math.Ceil(m.first / spacing); n*spacing < m.first+1.6e6; n++ {
		m.addLine(n*(spacing+wide/2)+6*m.width, 20, 0)
	}
	got := newCombSearch([]*View{m.view()}).centroidSpacing(spacing, wide)
	if math.Abs(got-spacing) > 0.3 {
		t.Errorf("%.2f Hz, want %.2f ± 0.3", got, spacing)
	}
}

// Lines that fill some six columns with a fifth of the noise's density, which the stack of 24 knows
// to 3 %, are told as wide as that.
func TestWidthOfFaintLines(t *testing.T) {
	const spacing, wide = 65.012e3, 3.0
	for seed := range uint64(5) {
		m := newMadeSpectrum(seed, 67, 9.65e6)
		m.addComb(spacing, 0.85, wide)
		below, above := m.view().lineEdges(spacing)
		if below+above < 1 || below+above > 4 { // a column less on either side
			t.Errorf("seed %d: from −%.2f to %.2f Hz", seed, below, above)
		}
	}
}

// Stations of six to ten times the noise on half of the places of 10 kHz show the raster, noise
// does not.
func TestRasterOfWeakStations(t *testing.T) {
	for over, want := range map[float64]float64{0: 0, 8: wideRaster} {
		m := newMadeSpectrum(3, 71, 9.65e6)
		for n := math.Ceil(m.first / 20e3); n*20e3 < m.first+1.6e6; n++ {
			m.addLine(n*20e3, over, 0)
		}
		if got := detectRaster([]*View{m.view()}); got != want {
			t.Errorf("stations of %v times the noise: raster %v, want %v", over, got, want)
		}
	}
}

// The foot of a line reaches to where speech is strongest, 0.9 kHz off: what stands there counts
// in full.
func TestFootOfAStation(t *testing.T) {
	const at = 5000
	v := flatView(func(power []float64) {
		raise(power, at-14, at-3, 2) // 220 Hz to 1 kHz
		raise(power, at+4, at+15, 2)
	})
	if power, _ := v.foot(at, 10); power < 1.8 {
		t.Errorf("density %.2f at the foot, want 2", power)
	}
}

// A line is kept at the centroid of its own power, whatever stands ten columns off.
func TestKeptWhereItIsStrongest(t *testing.T) {
	const at = 5000
	v := flatView(func(power []float64) {
		raise(power, at+9, at+13, 10)
		for d := -9; d <= 9; d++ {
			power[at+d] += 100 * fft.HannPower(float64(d)-0.3)
		}
	})
	var a Accumulator
	if got := a.chooseLines(v); len(got) == 0 || math.Abs(got[0]-at-0.3) > 0.1 {
		t.Errorf("kept at %v, want %v", got, at+0.3)
	}
}
