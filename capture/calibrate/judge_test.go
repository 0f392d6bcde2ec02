package calibrate_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/level"
	"nightfloor/survey/plan"
)

var evening = time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)

// measure makes a run on a fake under a sky, with earlier ones, the newest first.
func measure(t *testing.T, kind string, sky capturetest.Sky, s calibrate.Settings, earlier ...survey.Calibration) (*calibrate.Run, error) {
	t.Helper()
	return measureThrough(t, survey.WayTuner, kind, sky, s, earlier...)
}

// measureThrough does it through a way of the front end.
func measureThrough(t *testing.T, way, kind string, sky capturetest.Sky, s calibrate.Settings, earlier ...survey.Calibration) (*calibrate.Run, error) {
	t.Helper()
	segment := part31m
	if s.Frequency > 0 {
		segment = calibrate.GeneratorSegment(s.Frequency)
	}
	_, k := calibrating(t, sky, segment)
	s.Earlier = earlier
	r := calibrate.NewRun(k, plan.Plan{FrontEnd: survey.FrontEnd{Way: way}}, survey.Calibration{Kind: kind, At: evening.Add(time.Duration(len(earlier)) * time.Minute), ID: int64(10 + len(earlier))}, s)
	return r, r.Measure(t.Context())
}

// ownSky is a receiver with a noise figure, a terminator at its input.
func ownSky(figure survey.DB) capturetest.Sky {
	return capturetest.Sky{Floor: level.RoomNoise + survey.DBmPerHz(figure), Gains: []survey.DB{60, 66, 72}, Seed: 4}
}

// byGenerator measures a generator whose true level at the input is −110 dBm and which is told as another.
func byGenerator(t *testing.T, told survey.DBm, s calibrate.Settings, earlier ...survey.Calibration) (*calibrate.Run, error) {
	sky := ownSky(8)
	sky.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: -110}}
	s.By, s.Frequency, s.Level, s.Uncertainty = survey.BasisGenerator, 9.65e6, told, 1
	return measure(t, survey.CalibrateLevel, sky, s, earlier...)
}

// Own noise and a level tell the noise figure, whichever comes first; a level told too low, in another unit or
// without its pad tells one that no receiver has.
func TestImpliedFigures(t *testing.T) {
	noise, err := measure(t, survey.CalibrateNoise, ownSky(8), calibrate.Settings{})
	if err != nil || len(noise.Figures) != 0 {
		t.Fatalf("%v, %+v", err, noise.Figures)
	}
	right, err := byGenerator(t, -110, calibrate.Settings{}, noise.Calibration)
	if err != nil || len(right.Figures) < 2 || len(right.Doubts) != 0 {
		t.Fatalf("%v, %+v, doubts %q, left out %+v", err, right.Figures, right.Doubts, right.Skipped)
	}
	later, err := measure(t, survey.CalibrateNoise, ownSky(8), calibrate.Settings{}, right.Calibration)
	if err != nil || len(later.Figures) != len(right.Figures) {
		t.Fatalf("%v, %+v", err, later.Figures)
	}
	for i, f := range right.Figures {
		// Each as good as two short readings: 0.1 s of 50 kHz are 0.06 dB, twice that with what the meter adds.
		for _, f := range []level.Figure{f, later.Figures[i]} {
			if math.Abs(float64(f.Figure)-8) > 0.3 || f.Uncertainty < 1.1 || f.Uncertainty > 1.3 {
				t.Errorf("%+v, want 8 dB", f)
			}
		}
	}
	for told, refused := range map[survey.DBm]bool{-117: false, -119: true, -130: true} { // 8 − 7, 8 − 9, 8 − 20 dB
		_, err := byGenerator(t, told, calibrate.Settings{}, noise.Calibration)
		var figure float64
		if !refused && err == nil {
			continue
		}
		if _, scanned := fmt.Sscanf(fmt.Sprint(err), "the noise figure would be −%f dB", &figure); !refused || scanned != nil || math.Abs(-figure-float64(told+118)) > 0.3 ||
			!strings.Contains(err.Error(), "level was told too low") || !strings.Contains(err.Error(), "calibrate remove 10") {
			t.Errorf("told as %v dBm: %v", told, err)
		}
	}
	for told, doubted := range map[survey.DBm]bool{-94: false, -92: true} { // 24 and 26 dB
		r, err := byGenerator(t, told, calibrate.Settings{}, noise.Calibration)
		if err != nil || strings.Contains(strings.Join(r.Doubts, " "), " dB at the best gain") != doubted || doubted && !strings.Contains(r.Note, "the noise figure is 26 dB") {
			t.Errorf("told as %v dBm: %v, doubts %q", told, err, r.Doubts)
		}
	}
	// Direct sampling has 30 dB and more.
	loud, err := byGenerator(t, -110, calibrate.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	for way, doubted := range map[string]bool{survey.WayTuner: true, survey.WayDirectQ: false} {
		r, err := measureThrough(t, way, survey.CalibrateNoise, ownSky(30), calibrate.Settings{}, loud.Calibration)
		if err != nil || strings.Contains(strings.Join(r.Doubts, " "), "the noise figure is 30 dB") != doubted {
			t.Errorf("30 dB by %s: %v, doubts %q", way, err, r.Doubts)
		}
	}
	// The level came first, and was wrong: own noise tells, and that it does not yet is said.
	wrong, err := byGenerator(t, -130, calibrate.Settings{})
	if err != nil || !strings.Contains(strings.Join(wrong.Doubts, "; "), "nothing tells whether the level is right") {
		t.Fatalf("%v, doubts %q", err, wrong.Doubts)
	}
	wrong.ID = 7
	if _, err := measure(t, survey.CalibrateNoise, ownSky(8), calibrate.Settings{}, wrong.Calibration); err == nil || !strings.Contains(err.Error(), "the level of calibration 7 was told too low") {
		t.Errorf("%v", err)
	}
}

// At gains at which too few codes move own noise is known to 2.5 dB, and that is enough to tell that a level is 36 dB
// too low, or 47: the noise figure would be under 0 whatever own noise is.
func TestLevelTooLowWhereCodesDoNotMove(t *testing.T) {
	sky := ownSky(8)
	sky.Gains = []survey.DB{24, 30, 33} // −141.98 dBFS/Hz at 24 dB, and rounding's −103.9
	noise, err := measure(t, survey.CalibrateNoise, sky, calibrate.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range noise.Noise {
		if !n.Rough() {
			t.Fatalf("%+v is measured", n)
		}
	}
	sky.Carriers = []capturetest.Carrier{{At: 9.6521e6, Level: -50}}
	// Full scale at 33 dB is −43 dBm. Zero lies between two codes: a quarter of a squared code reads −99.1 dBFS/Hz, and own
	// noise is under that + 2.5, which is a figure of under 34.4 dB.
	for told, refused := range map[survey.DBm]bool{-50: false, -83: false, -86: true, -97: true} {
		s := calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.652e6, Level: told, Uncertainty: 1}
		_, err := measure(t, survey.CalibrateLevel, sky, s, noise.Calibration)
		var figure float64
		if !refused && err == nil {
			continue
		}
		if _, scanned := fmt.Sscanf(fmt.Sprint(err), "the noise figure would be under −%f dB", &figure); !refused || scanned != nil || math.Abs(figure-float64(-told-84.4)) > 0.5 || !strings.Contains(err.Error(), "level was told too low") {
			t.Errorf("told as %v dBm: %v", told, err)
		}
		// The other way round: the wrong level first.
		first, err := measure(t, survey.CalibrateLevel, sky, s)
		if err != nil {
			t.Fatal(err)
		}
		quiet := sky
		quiet.Carriers = nil
		if _, err := measure(t, survey.CalibrateNoise, quiet, calibrate.Settings{}, first.Calibration); refused != (err != nil) {
			t.Errorf("own noise after a level told as %v dBm: %v", told, err)
		}
	}
}

// Whose carrier was measured is not sure where another stands beside it, 20 dB weaker at the most: a second
// generator, a station, sidebands of modulation.
func TestCarriersBesideTheGenerator(t *testing.T) {
	for _, test := range []struct {
		weaker  survey.DBm
		off     survey.Hz
		doubted bool
	}{{0.5, 12e3, true}, {19, 12e3, true}, {16, 1e3, true}, {21, 12e3, false}, {10, 40e3, false}} {
		sky := ownSky(8)
		sky.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: -105}, {At: 9.6501e6 + test.off, Level: -105 - test.weaker}}
		r, err := measure(t, survey.CalibrateLevel, sky, calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.65e6, Level: -105, Uncertainty: 1})
		if err != nil || strings.Contains(strings.Join(r.Doubts, "; "), "beside the generator's carrier stands another") != test.doubted || strings.Contains(r.Note, "beside") != test.doubted {
			t.Errorf("%v dB weaker, %v off: %v, doubts %q", test.weaker, test.off, err, r.Doubts)
		}
	}
}

// A generator told 20 dB too high passes for a receiver of 28 dB, but not beside an earlier run; nor does own noise with
// an antenna in place of the terminator. What the operator says has changed is kept.
func TestRunsThatDiffer(t *testing.T) {
	first, err := byGenerator(t, -110, calibrate.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	n := len(first.Levels)
	if _, err := byGenerator(t, -110.8, calibrate.Settings{}, first.Calibration); err != nil {
		t.Errorf("0.8 dB apart: %v", err)
	}
	_, err = byGenerator(t, -90, calibrate.Settings{}, first.Calibration)
	for _, part := range []string{"full scale differs from that of calibration 10 at " + fmt.Sprintf("%d of %d figures", n, n), "by +20.0 dB", "calibrate remove 10", "--changed"} {
		if err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%v; want %q", err, part)
		}
	}
	r, err := byGenerator(t, -108.5, calibrate.Settings{Changed: true}, first.Calibration)
	if err != nil || !strings.Contains(strings.Join(r.Doubts, " "), "by +1.5 dB") || !strings.Contains(r.Note, "has changed, as the operator says") {
		t.Errorf("%v, doubts %q", err, r.Doubts)
	}
	// A receiver of less gain behind its attenuator is no noise figure under 0 dB by the level of before.
	if _, err := measure(t, survey.CalibrateNoise, ownSky(-4), calibrate.Settings{}, first.Calibration); err == nil || !strings.Contains(err.Error(), "--changed if the receiver is not what it was") {
		t.Errorf("%v", err)
	}
	if r, err := measure(t, survey.CalibrateNoise, ownSky(-4), calibrate.Settings{Changed: true}, first.Calibration); err != nil || len(r.Figures) != 0 {
		t.Errorf("%v, %+v", err, r.Figures)
	}
	own, err := measure(t, survey.CalibrateNoise, ownSky(8), calibrate.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := measure(t, survey.CalibrateNoise, ownSky(13), calibrate.Settings{}, own.Calibration); err == nil || !strings.Contains(err.Error(), "own noise differs from that of calibration 10") || !strings.Contains(err.Error(), "by +4.9") && !strings.Contains(err.Error(), "by +5.") {
		t.Errorf("%v", err)
	}
}

// A sourced is a fake with a noise source at its input, which is a terminator while it is off.
type sourced struct {
	*capturetest.Fake
	turns []bool
	stuck error
}

func (s *sourced) Turn(ctx context.Context, on bool) error {
	s.turns = append(s.turns, on)
	if s.stuck != nil && on {
		return s.stuck
	}
	antenna := "off"
	if on {
		antenna = "on"
	}
	_, err := s.Change(ctx, survey.Setup{Antenna: antenna})
	return err
}

// A noise source of 15 dB in front of a receiver of 8 dB: Y is (31.6 + 6.3)/6.3, 7.8 dB. Noise figure and full scale
// come out, and the noise source is off again at the end. Where it stays off nothing is stored.
func TestNoiseSource(t *testing.T) {
	const figure, enr = 8.0, 15.0
	y := survey.DB(10 * math.Log10(1+math.Pow(10, (enr-figure)/10)))
	for _, test := range []struct {
		name   string
		on     survey.DB // by how much the floor rises
		stuck  error
		levels int
		why    string
	}{
		{"as it should be", y, nil, 3, ""},
		{"it stays off", 0, nil, 0, "check that it is off first and on then"},
		{"it is on first", -y, nil, 0, "check that it is off first and on then"},
		{"its program fails", y, errors.New("no power"), 0, "no power"},
	} {
		sky := ownSky(figure)
		sky.Gains = []survey.DB{0, 60, 66, 72}
		sky.Antennas = map[string]survey.DB{"on": test.on}
		f, k := calibrating(t, sky, part31m)
		source := &sourced{Fake: f, stuck: test.stuck}
		r := calibrate.NewRun(k, plan.Plan{}, survey.Calibration{Kind: survey.CalibrateLevel, At: evening}, calibrate.Settings{By: survey.BasisSource, ENR: enr, Uncertainty: 0.5, Source: source})
		err := r.Measure(t.Context())
		if n := len(source.turns); n != 3 || source.turns[0] || !source.turns[1] || source.turns[2] {
			t.Errorf("%s: turned %v", test.name, source.turns)
		}
		if test.why != "" {
			if err == nil || !strings.Contains(err.Error(), test.why) {
				t.Errorf("%s: %v, want %q", test.name, err, test.why)
			}
			continue
		}
		if err != nil || len(r.Levels) != test.levels || len(r.Figures) != test.levels || len(r.Skipped) != 1 {
			t.Fatalf("%s: %v, %+v, %+v, %+v", test.name, err, r.Levels, r.Figures, r.Skipped)
		}
		for i, l := range r.Levels {
			// A step of 7.8 dB of two readings known to 0.1 dB each: 0.15 dB.
			if want := capturetest.FullScale - survey.DBm(l.Gain); math.Abs(float64(l.FullScale-want)) > 0.4 || l.Sigma < 0.03 || l.Sigma > 0.3 || *l.Uncertainty != 0.5 || l.Basis != survey.BasisSource {
				t.Errorf("%+v, want %.1f dBm", l, want)
			}
			if f := r.Figures[i]; math.Abs(float64(f.Figure)-figure) > 0.4 {
				t.Errorf("%+v, want %v dB", f, figure)
			}
		}
	}
	// ENR 15 dB and Y 7.8 dB are 8 dB by the formula: F = ENR/(Y − 1).
	off := survey.MeasuredNoise{Rate: 250e3, SelfNoise: survey.SelfNoise{Segment: part31m, Gain: 60, Sigma: 0.02, Density: survey.DensityOf(1e-8 + level.Rounding(250e3))}}
	on := off
	on.Density = survey.DensityOf(1e-8*6.0119 + level.Rounding(250e3)) // 1 + 10^0.7
	found, _ := calibrate.LevelsFromSource([]survey.MeasuredNoise{off}, []survey.MeasuredNoise{on}, enr, 0.5)
	if len(found) != 1 {
		t.Fatalf("%+v", found)
	}
	implied := level.Figures(nil, []survey.SelfNoise{off.SelfNoise}, 250e3, []*survey.Calibration{{Levels: found}}, evening)
	if math.Abs(float64(implied[0].Figure)-8) > 1e-3 {
		t.Errorf("%+v, want 8 dB", implied)
	}
	// 3 dB of ENR on a receiver of 20 dB: Y is 1.02, and no reading tells that.
	on.Density = survey.DensityOf(1e-8*1.02 + level.Rounding(250e3))
	if found, left := calibrate.LevelsFromSource([]survey.MeasuredNoise{off}, []survey.MeasuredNoise{on}, 3, 0.5); len(found) != 0 || len(left) != 1 || left[0].Why != calibrate.ReasonNoExcess {
		t.Errorf("%+v, %+v", found, left)
	}
	// Readings known to 0.1 dB: what is 0.36 of own noise is known to 0.47 dB, what is 0.3 to 0.55.
	off.Sigma, on.Sigma = 0.1, 0.1
	for excess, known := range map[float64]bool{0.36: true, 0.3: false} {
		on.Density = survey.DensityOf(1e-8*(1+excess) + level.Rounding(250e3))
		if found, _ := calibrate.LevelsFromSource([]survey.MeasuredNoise{off}, []survey.MeasuredNoise{on}, 3, 0.5); (len(found) == 1) != known {
			t.Errorf("an excess of %v of own noise: %+v", excess, found)
		}
	}
	on.Flags = []string{survey.FlagOverload}
	if _, left := calibrate.LevelsFromSource([]survey.MeasuredNoise{off}, []survey.MeasuredNoise{on}, enr, 0.5); len(left) != 1 || left[0].Why != calibrate.ReasonClips {
		t.Errorf("%+v", left)
	}
}
