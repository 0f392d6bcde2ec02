package calibrate

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/survey"
)

// A rasterTrial is a sky of broadcasters by bands, heard through a tuner.
type rasterTrial struct {
	offset survey.Hz
	ppm    float64
	bands  []int // stations in each, by bandStarts
	stray  int   // carriers anywhere
	tuner  float64
}

// bandStarts are the lower edges of 49 m and 31 m.
var bandStarts = []float64{5.9e6, 9.4e6}

// lines makes what is heard: stations stand within 3 Hz of the raster, one in ten
// within 12, and the tuner puts a tuning off by half a step at the most.
func (r rasterTrial) lines(random *rand.Rand) (lines []clockLine) {
	heard := func(f, off float64, tuning int) {
		at := (f+float64(r.offset)+off)/(1+r.ppm*1e-6) - float64(r.offset)
		lines = append(lines, clockLine{heard: survey.Hz(at), tuned: survey.Hz(at) + r.offset, tuning: tuning})
	}
	for tuning, stations := range r.bands {
		off := (2*random.Float64() - 1) * r.tuner
		for _, n := range random.Perm(100)[:stations] {
			by := 3.0
			if random.IntN(10) == 0 {
				by = 12
			}
			heard(bandStarts[tuning]+raster*float64(n)+(2*random.Float64()-1)*by, off, tuning)
		}
		for range r.stray {
			heard(bandStarts[tuning]+500e3*random.Float64(), off, tuning)
		}
	}
	return lines
}

// Through an up-converter the raster repeats every 40 ppm. With stations in two
// bands a wrong turn is never taken for the right one, and the right one is seldom
// refused, whatever the clock error, the tuner's steps and the converter.
func TestRasterByManyClockErrors(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	random := rand.New(rand.NewPCG(20261103, 3))
	k := Calibrator{tunerError: tunerStep / 2}
	unlucky := []float64{-97, 100, 63, -12} // of which some stations fit a wrong turn well
	for _, test := range []struct {
		bands []int
		stray int
		most  int // refusals of 100
	}{
		{[]int{4, 7}, 0, 1}, {[]int{7, 4}, 1, 1}, {[]int{8, 8}, 3, 1}, {[]int{3, 8}, 0, 4}, {[]int{15, 20}, 10, 1},
		// Two stations in the second band may stand right by chance: no claim is made.
		{[]int{2, 9}, 0, 100}, {[]int{0, 9}, 2, 100}, {[]int{1, 9}, 2, 100},
	} {
		const trials = 100
		refused, worst, beyond := 0, 0.0, 0
		for n := range trials {
			r := rasterTrial{offset: survey.Hz(random.IntN(3))*5e6 + 115e6, ppm: 380*random.Float64() - 190, bands: test.bands, stray: test.stray, tuner: float64(k.tunerError)}
			if r.offset == 115e6 {
				r.offset = 100e6
			}
			if n < len(unlucky) {
				r.ppm = unlucky[n]
			}
			e, err := k.byRaster(r.lines(random), r.offset)
			if err != nil {
				if !errors.Is(err, ErrClock) {
					t.Fatal(err)
				}
				refused++
				continue
			}
			off := math.Abs(e.PPM - r.ppm)
			worst = max(worst, off)
			if off > 2*e.Sigma {
				beyond++
			}
			if off > 1 { // the tuner's half step is 0.27 ppm of 100 MHz
				t.Errorf("%+v: %+v", r, e)
			}
		}
		if refused > test.most {
			t.Errorf("%v stations, %d strays: %d of %d refused, %d are admitted", test.bands, test.stray, refused, trials, test.most)
		}
		// The mean of two uniform steps is off by more than two sigmas in 3.4 % of cases:
		// 3 or 4 of 100, 1.8 more or less.
		if beyond > 10 {
			t.Errorf("%v stations, %d strays: %d of %d are off by more than two sigmas", test.bands, test.stray, beyond, trials)
		}
		t.Logf("%v stations, %d strays: %d of %d refused, the worst off by %.2f ppm", test.bands, test.stray, refused, trials, worst)
	}
}

// Carriers anywhere are no stations, however the tuner's steps are fitted.
func TestRasterByChance(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	random := rand.New(rand.NewPCG(20261103, 4))
	for _, wide := range []survey.Hz{0, tunerStep / 2} {
		k, claimed := Calibrator{tunerError: wide}, 0
		const trials = 1000
		for range trials {
			r := rasterTrial{offset: 125e6, bands: []int{0, 0}, stray: 6 + random.IntN(10)}
			if _, err := k.byRaster(r.lines(random), r.offset); err == nil {
				claimed++
			}
		}
		t.Logf("tuner's offset of %v: %d of %d", wide, claimed, trials)
		// One in a thousand by the bound: five and more of 1,000 in 0.4 % of cases.
		if claimed > 4 {
			t.Errorf("tuner's offset of %v: %d of %d skies of strays tell a clock error", wide, claimed, trials)
		}
	}
}

// Three stations at low frequencies, where few clock errors can be told apart, stand on the
// raster by chance in less than one of a thousand cases, and yet tell nothing.
func TestThreeStations(t *testing.T) {
	var lines []clockLine
	for _, f := range []survey.Hz{1.5e6, 1.515e6, 1.535e6} {
		lines = append(lines, clockLine{heard: f / (1 + 20e-6), tuned: f / (1 + 20e-6)})
	}
	s := newRasterSearch(lines, 0, 0)
	if best := s.best(); best.stations != 3 || s.falseAlarm(best) > 1e-3 {
		t.Fatalf("%+v, by chance %v", best, s.falseAlarm(best))
	}
	if e, err := (&Calibrator{}).byRaster(lines, 0); !errors.Is(err, ErrClock) {
		t.Errorf("%+v, %v", e, err)
	}
}

// A station is off its frequency by a hertz or so: 0.1 ppm at 10 MHz, however steady it is.
func TestStationsOwnError(t *testing.T) {
	e, err := (&Calibrator{}).byStation([]clockLine{{heard: 10e6, tuned: 10e6, power: 1}}, 10e6, 0)
	if err != nil || math.Abs(e.Sigma-0.1) > 0.03 {
		t.Errorf("%+v, %v", e, err)
	}
}

// A tuner's loop divides twice the crystal's 28.8 MHz by 2¹⁶, and the mixer's divider is 16
// where an up-converter puts shortwave (PHYSICS.md 7.6).
func TestTunerStep(t *testing.T) {
	if want := 2 * 28.8e6 / (1 << 16) / 16; math.Abs(float64(tunerStep)-want) > 0.01*want {
		t.Errorf("%v, want %.1f Hz", tunerStep, want)
	}
}

// Two bands whose stations say different things are refused.
func TestRasterRivals(t *testing.T) {
	random := rand.New(rand.NewPCG(20261103, 5))
	k := Calibrator{}
	for range 200 {
		// Five stations of a clock 30 ppm fast in 49 m, four of one 60 ppm slow in 31 m.
		lines := rasterTrial{ppm: 30, bands: []int{5, 0}}.lines(random)
		lines = append(lines, rasterTrial{ppm: -60, bands: []int{0, 4}}.lines(random)...)
		if e, err := k.byRaster(lines, 0); !errors.Is(err, ErrClock) {
			t.Fatalf("%+v, %v of %+v", e, err, lines)
		}
	}
}
