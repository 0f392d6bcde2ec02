package level

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/survey"
)

var evening = time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)

// run makes a run of level references, so long after the evening began.
func run(after time.Duration, all ...survey.LevelReference) *survey.Calibration {
	return &survey.Calibration{Kind: survey.CalibrateLevel, At: evening.Add(after), Levels: all}
}

// ref is a reference by a generator.
func ref(f survey.Hz, gain survey.DB, full survey.DBm) survey.LevelReference {
	return survey.LevelReference{Frequency: f, Gain: gain, FullScale: full, Basis: survey.BasisGenerator}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.4f, want %.4f ± %.4f", what, got, want, within)
	}
}

// Between two references the level goes straight in dB over the logarithm of frequency; beyond both, and near one,
// one serves.
func TestOf(t *testing.T) {
	figure := ref(8.5e6, 20, -70)
	figure.Basis = survey.BasisFigure
	runs := []*survey.Calibration{run(time.Hour, ref(6e6, 20, -40), ref(6e6, 30, -50)), run(0, figure, ref(12e6, 20, -44), ref(6.1e6, 20, -39), ref(15e6, 20, -60))}
	for _, test := range []struct {
		f, gain   float64
		want, at  float64
		rests     int
		far       bool
		frequency float64 // dB
	}{
		{8.4853e6, 20, -42, 8.4853e6, 2, false, 2.449 * 0.25}, // the geometric mean of 6 and 12, half an octave from both
		{7.1352e6, 20, -41, 7.1352e6, 2, false, 2.449 * 0.25 * 0.75},
		{6.2e6, 20, -40, 6e6, 1, false, 0},    // newer, and within 5 % as the other is
		{5.9e6, 20.04, -40, 6e6, 1, false, 0}, // a label that was rounded
		{3e6, 20, -40, 6e6, 1, true, 1.732},   // an octave under it
		{30e6, 20, -60, 15e6, 1, true, 1.732},
		{13e6, 20, -44 - 16*0.3587, 13e6, 1, false, 2.449 * 0.1155 * 0.2065 / 0.3219},
		{8.5e6, 30, -50, 6e6, 1, true, 1.732 * 0.5025},
	} {
		l, ok := Of(runs, survey.Hz(test.f), survey.DB(test.gain))
		if !ok || len(l.Runs) != test.rests || l.Far != test.far || !l.Measured() || l.Basis != survey.BasisGenerator {
			t.Errorf("%+v: %+v, %v", test, l, ok)
		}
		near(t, "full scale", float64(l.FullScale), test.want, 0.002)
		near(t, "where", float64(l.Frequency), test.at, 1)
		near(t, "distance", float64(l.frequency), test.frequency, 0.002)
	}
	if _, ok := Of(runs, 8.5e6, 25); ok {
		t.Error("a level at a gain without a reference")
	}
	if _, ok := Of(runs, 0, 20); ok {
		t.Error("a level at no frequency")
	}
	if l, ok := Of([]*survey.Calibration{run(0, figure)}, 8.5e6, 20); !ok || l.Measured() || l.FullScale != -70 {
		t.Errorf("%+v, %v", l, ok)
	}
}

// References a few per cent apart count as one, those farther apart do not, nor those of two sources, each off by
// something of its own.
func TestStepsAtOneFrequency(t *testing.T) {
	for f, same := range map[survey.Hz]bool{10.4e6: true, 10.6e6: false} {
		a, _ := Of([]*survey.Calibration{run(0, ref(10e6, 20, -40))}, 10e6, 20)
		b, _ := Of([]*survey.Calibration{run(0, ref(f, 20, -40))}, 10e6, 20)
		if a.Comparable(b) != same || (b.frequency == 0) != same {
			t.Errorf("%v beside 10 MHz: %+v", f, b)
		}
		if a.Basis = survey.BasisSource; a.Comparable(b) {
			t.Errorf("a noise source beside a generator: %+v", a)
		}
	}
}

func TestSameGain(t *testing.T) {
	for by, same := range map[survey.DB]bool{0: true, 0.04: true, -0.04: true, 0.06: false, -0.9: false} {
		if SameGain(20, 20+by) != same {
			t.Errorf("labels %v dB apart", by)
		}
	}
}

// A tenth of the reference's frequency.
func TestFarFromTheReference(t *testing.T) {
	for f, far := range map[survey.Hz]bool{10e6: false, 10.95e6: false, 11.05e6: true, 9.05e6: false, 8.95e6: true} {
		if l, _ := Of([]*survey.Calibration{run(0, ref(10e6, 20, -40))}, f, 20); l.Far != far {
			t.Errorf("%v: %+v", f, l)
		}
	}
}

// The worked number of PHYSICS.md 5.6, and what the terms come to.
func TestBudget(t *testing.T) {
	near(t, "level 1, mismatch 0.5, antenna factor 2, K 3/√3", float64(combined(1, 0.5, 2, survey.DB(3/math.Sqrt(3)))), 2.87, 0.005)
	told, figure, source := ref(10e6, 20, -40), ref(10e6, 20, -40), ref(10e6, 20, -40)
	told.Uncertainty, told.Sigma = new(survey.DB(0.25)), 0.1
	figure.Basis, source.Basis = survey.BasisFigure, survey.BasisSource
	for _, test := range []struct {
		ref   survey.LevelReference
		f     survey.Hz
		after time.Duration
		want  float64
		text  string
	}{
		{ref(10e6, 20, -40), 10e6, 0, 1.158, "generator 1.0, mismatch 0.5, drift 0.3 dB"}, // √(1 + 0.25 + 0.09)
		{ref(10e6, 20, -40), 10e6, -30 * 24 * time.Hour, 1.196, "generator 1.0, mismatch 0.5, drift 0.4 dB"},
		{ref(10e6, 20, -40), 20e6, 0, 2.083, "generator 1.0, mismatch 0.5, drift 0.3, distance in frequency 1.7 dB"},
		{told, 10e6, 0, 0.642, "generator 0.2, mismatch 0.5, drift 0.3, noise 0.1 dB"},
		{figure, 10e6, 0, 2.083, "noise figure 2.0, mismatch 0.5, drift 0.3 dB"},
		{source, 10e6, 0, 1.158, "noise source 1.0, mismatch 0.5, drift 0.3 dB"},
	} {
		l, _ := Of([]*survey.Calibration{run(0, test.ref)}, test.f, 20)
		b := l.Budget(evening.Add(test.after))
		near(t, b.String(), float64(b.Total()), test.want, 0.001)
		if b.String() != test.text {
			t.Errorf("%q, want %q", b.String(), test.text)
		}
	}
	near(t, "a noise figure 20 dB under the gain it is of", float64(FigureAt(2, 20)), math.Hypot(2, 5.774), 0.001)
	near(t, "at once", float64(AtOnce(told).Total()), 0.568, 0.001)
}

// In worlds whose generator, mismatch, drift and front end err as the terms say, 95 % of levels lie within 1.96 times the
// total: at the reference, away from it, between two, and with a later run that shows the drift.
func TestBudgetHolds(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 13))
	uniform := func(most float64) float64 { return most * (2*random.Float64() - 1) }
	const worlds = 4000
	for _, world := range []struct {
		name         string
		low, high    float64 // octaves from the reading to the references; high 0: only one
		seesTheDrift bool
	}{{"at the reference", 0, 0, false}, {"an octave away", 1, 0, false}, {"between two", 1, 0.5, false}, {"after a night of drift", 0, 0, true}} {
		within := 0
		for range worlds {
			generator := random.NormFloat64() + 0.5*random.NormFloat64() // and mismatch
			drift := 0.3 * random.NormFloat64()
			at := func(octaves, slope float64) survey.LevelReference {
				return ref(survey.Hz(10e6*math.Exp2(octaves)), 20, survey.DBm(-40+generator+slope*math.Abs(octaves)))
			}
			runs := []*survey.Calibration{run(0, at(-world.low, uniform(3)))}
			if world.high > 0 {
				runs[0].Levels = append(runs[0].Levels, at(world.high, uniform(3)))
			}
			if world.seesTheDrift {
				drift = uniform(2) // by then, of which the night has seen a part
				after := run(8*time.Hour, at(0, 0))
				after.Levels[0].FullScale += survey.DBm(drift)
				runs, drift = append(runs, after), drift*random.Float64()
			}
			l, _ := Of(runs, 10e6, 20)
			if math.Abs(float64(l.FullScale)-(-40+drift)) <= 1.96*float64(l.Budget(evening).Total()) {
				within++
			}
		}
		// 95 % of 4000: 3800, sigma 14. Rectangular errors are within more often, as is a drift of which part is seen.
		if share := float64(within) / worlds; share < 0.94 || share > 0.995 {
			t.Errorf("%s: %.3f within", world.name, share)
		} else {
			t.Logf("%s: %.3f within", world.name, share)
		}
	}
}

// Two runs before and after a night tell by how much the receiver drifted in it, at all gains of the first.
func TestDriftBetweenTwoRuns(t *testing.T) {
	before := run(0, ref(10e6, 20, -40), ref(10e6, 30, -50), ref(10e6, 40, -60), ref(5e6, 20, -20))
	after := run(10*time.Hour, ref(10.2e6, 20, -41.5), ref(10.2e6, 30, -51.5), ref(5e6, 20, -20))
	later := run(20*time.Hour, ref(10e6, 20, -44), ref(10e6, 30, -54))
	figure := run(5*time.Hour, ref(10e6, 20, -80))
	figure.Levels[0].Basis = survey.BasisFigure
	for _, test := range []struct {
		runs    []*survey.Calibration
		f, gain float64
		want    float64
	}{
		{[]*survey.Calibration{before, later, after, figure}, 10e6, 20, 1.5},
		{[]*survey.Calibration{before, later, after}, 10e6, 40, 1.5}, // only the first has that gain
		{[]*survey.Calibration{before, later, after}, 5e6, 20, 0},
		{[]*survey.Calibration{before, figure}, 10e6, 20, 0},
		{[]*survey.Calibration{after, before}, 10e6, 20, 0}, // none is later
	} {
		l, ok := Of(test.runs, survey.Hz(test.f), survey.DB(test.gain))
		near(t, "moved", float64(l.Moved), test.want, 1e-6)
		if drift := float64(l.Budget(evening).Drift); !ok || math.Abs(drift-max(0.3, test.want)) > 0.01 {
			t.Errorf("%+v: drift %.2f", test, drift)
		}
	}
}
