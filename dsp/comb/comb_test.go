package comb

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
)

// Five lines, too weak, in each of four segments are found in all of them together,
// at multiples of one frequency. Where they are moved by a third of the spacing from one
// segment to the next they are no comb.
func TestCombsAcrossSegments(t *testing.T) {
	const spacing, over = 113.29e3, 0.3 // −5 dB
	for _, shift := range []float64{0, 1.0 / 3} {
		var views []*View
		for k, centre := range []float64{6.05115e6, 7.32615e6, 9.65115e6, 11.85115e6} {
			m := newMadeSpectrum(uint64(k), 11, centre)
			for n := math.Ceil(m.first / spacing); n*spacing < m.first+1.6e6; n++ {
				if int(n)%3 == 0 { // five a segment
					m.addLine((n+shift*float64(k))*spacing, over, 0)
				}
			}
			views = append(views, m.view())
		}
		for k, v := range views {
			if found := Seek([]*View{v}, certain); len(found) > 0 {
				t.Errorf("segment %d alone: %+v", k, found)
			}
		}
		found := Seek(views, certain)
		if want := 3 * spacing; shift == 0 && !holds(found, want) {
			t.Errorf("no comb of %.0f Hz in %+v", want, found)
		}
		if shift != 0 && len(found) > 0 {
			t.Errorf("lines at no common multiples: %+v", found)
		}
	}
}

// A comb known from before is found again where it has drifted to, in noise it is not,
// and weak lines take less than to find them first.
func TestSeekAgain(t *testing.T) {
	const spacing = 65.012e3
	known := []Comb{{Spacing: spacing}, {Spacing: 130.7e3}}
	trials := 40
	if testing.Short() {
		trials = 10
	}
	again, first := 0, 0
	for seed := range uint64(trials) {
		m := newMadeSpectrum(seed, 23, 9.65e6)
		if found := SeekAgain([]*View{m.view()}, known, certain); len(found) > 0 {
			t.Errorf("noise: %+v", found)
		}
		m.addComb(spacing*(1+1e-5), 0.19, 0) // −7.2 dB: 24 lines are 7.7 standard deviations
		v := m.view()
		if holds(SeekAgain([]*View{v}, known, certain), spacing*(1+1e-5)) {
			again++
		}
		if holds(Seek([]*View{v}, certain), spacing*(1+1e-5)) {
			first++
		}
	}
	t.Logf("found again in %d of %d, without knowing in %d", again, trials, first)
	if again < trials*8/10 || again <= first {
		t.Errorf("found again in %d of %d, without knowing in %d", again, trials, first)
	}
}

// Lines of a known comb have the power built in, whether they are stronger than the noise or
// not there at all, also where six of ten places of the raster are taken, and their standard
// error holds.
func TestCombLinesByForce(t *testing.T) {
	dsptest.SkipIfShort(t)
	const trials = 200
	for _, occupancy := range []float64{0, 0.6} {
		for _, over := range []float64{0, 0.1, 1, 100} {
			inside, sum := 0, 0.0
			for seed := range uint64(trials) {
				m := newMadeSpectrum(seed, 17, 9.65e6)
				lines := m.addComb(65.012e3, over, 0)
				m.addBroadcast(8.85e6, 10.45e6, 10e3, occupancy)
				power, sigma, n := m.view().Lines(Comb{Spacing: 65.012e3})
				if n < lines-1 && occupancy == 0 || n < lines/2 {
					t.Fatalf("%d of %d lines measured", n, lines)
				}
				sum += power / 1e-9
				if math.Abs(power/1e-9-over) < 1.96*sigma/1e-9 {
					inside++
				}
			}
			// A line's power scatters by √(3.5 columns · 2/50)/1.5 = 0.25 of the noise in a
			// column, the mean of 25 and of 200 such by 0.004; beside stations, whose sidebands
			// are not straight, by twice that and a bias of a hundredth.
			tolerance := 0.008 + 0.003*over
			if occupancy > 0 {
				tolerance = 0.025 + 0.01*over
			}
			if mean := sum / trials; math.Abs(mean-over) > tolerance {
				t.Errorf("%v taken, %v times the floor: %.4f measured", occupancy, over, mean)
			}
			// Binomial: 0.95 ± three times 0.0154; a little less beside stations.
			least := 0.9 - 0.05*min(1, occupancy)
			if share := float64(inside) / trials; over < 10 && (share < least || share > 0.99) {
				t.Errorf("%v taken, %v times the floor: in %.1f %% of the intervals", occupancy, over, 100*share)
			}
		}
	}
}

// A passband that lies about 0 Hz has one comb where one is, of lines as wide as they are.
func TestCombAboutZero(t *testing.T) {
	m := newMadeSpectrum(1, 1, 0)
	for n := -12; n <= 12; n++ {
		if n != 0 {
			m.addLine(float64(n)*65.012e3, 10, 0)
		}
	}
	found := Seek([]*View{m.view()}, certain)
	if len(found) != 1 || !holds(found, 65.012e3) || !(found[0].Width < 20) {
		t.Errorf("%+v", found)
	}
}

// Stations of one level in every second or third place of the raster are stations: their
// programme shows in all of them together. Lines there without programme are a comb.
func TestStationsInARow(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, raster := range []float64{wideRaster, narrowRaster} {
		for _, every := range []float64{2, 3} {
			for _, level := range []float64{20, 30, 40} {
				stations, supply := newMadeSpectrum(1, uint64(level), 9.65e6), newMadeSpectrum(1, uint64(level), 9.65e6)
				spacing := every * raster
				for n := math.Ceil(8.85e6 / spacing); n*spacing <= 10.45e6; n++ {
					over := math.Pow(10, (level+3*stations.r.Float64())/10)
					stations.addStation(n*spacing+2*(stations.r.Float64()-0.5), over)
					supply.addLine(n*spacing, over, 0)
				}
				if found := Seek([]*View{stations.view()}, certain); len(found) > 0 {
					t.Errorf("stations of %v dB every %v Hz: %+v", level, spacing, found)
				}
				if found := Seek([]*View{supply.view()}, certain); !holds(found, spacing) {
					t.Errorf("comb of %v dB, %v Hz: %+v", level, spacing, found)
				}
			}
		}
	}
}

// Eight lines of 6 dB that all happen to stand on a raster, at multiples of 202.500 kHz, are not
// taken for stations because of the noise beside a few of them.
func TestFewLinesOnARaster(t *testing.T) {
	v, spacing := combSpectrum(14, 8, 6, 0, motions[0])
	if math.Abs(spacing-45*narrowRaster/2) > 1 {
		t.Fatalf("%.2f Hz is not on the raster", spacing)
	}
	if found := Seek([]*View{v}, certain); !holds(found, spacing) {
		t.Errorf("%+v", found)
	}
}

// Views of nothing, of silence, and of too little give no comb and no panic.
func TestCombsOfNothing(t *testing.T) {
	silence := newViewOfPowers(make([]float64, 4096), 9e6, 73, 1.5, 68, 9.1e6)
	short := newViewOfPowers(make([]float64, 10), 9e6, 73, 1.5, 1, 9e6)
	zero := newViewOfPowers(make([]float64, 4096), -150e3, 73, 1.5, 68, 0)
	stations := newMadeSpectrum(1, 1, 0) // a recording whose centre nobody told
	stations.addBroadcast(-0.8e6, 0.8e6, 10e3, 0.3)
	high := newMadeSpectrum(1, 1, 1090e6)
	high.addComb(65e3, 100, 0)
	for _, v := range []*View{nil, silence, short, zero, stations.view(), high.view()} {
		if found := Seek([]*View{v}, certain); len(found) > 0 {
			t.Errorf("%+v", found)
		}
	}
	if found := Seek(nil, certain); found != nil {
		t.Errorf("%+v", found)
	}
	if _, _, n := short.Lines(Comb{Spacing: 20e3}); n != 0 {
		t.Errorf("%d lines in ten columns", n)
	}
}
