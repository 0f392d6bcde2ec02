package calibrate_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// ofNoise runs a calibration of own noise under a sky, after others.
func ofNoise(t *testing.T, sky capturetest.Sky, earlier ...survey.Calibration) (*calibrate.Run, error) {
	t.Helper()
	_, k := calibrating(t, sky, part31m)
	r := calibrate.NewRun(k, plan.Plan{}, survey.Calibration{Kind: survey.CalibrateNoise}, calibrate.Settings{Earlier: earlier})
	return r, r.Measure(t.Context())
}

// An antenna left on instead of a terminator: two dozen stations on the raster, of which the converter is far from
// overloaded. Lines of a clock, evenly spaced, and lines anywhere are the receiver's own.
func TestNoiseOfAnAntenna(t *testing.T) {
	quiet := capturetest.Sky{Floor: -120, Gains: []survey.DB{18, 24, 30, 36}}
	f, k := calibrating(t, quiet, part31m)
	begun := f.Now()
	if err := calibrate.NewRun(k, plan.Plan{}, survey.Calibration{Kind: survey.CalibrateNoise}, calibrate.Settings{}).Measure(t.Context()); err != nil {
		t.Fatal(err)
	}
	// Before sixty readings by which it is watched lies the highest gain's, the only one that hears what is there from then on.
	last := f.Now().Sub(begun) - 60*141*time.Millisecond - 120*time.Millisecond
	for name, test := range map[string]struct {
		at      []survey.Hz
		refused bool
	}{
		"a band":         {[]survey.Hz{9.625e6, 9.63e6, 9.645e6, 9.65e6, 9.66e6, 9.675e6}, true},
		"a clock's comb": {[]survey.Hz{9.625e6, 9.675e6}, false},
		"anywhere":       {[]survey.Hz{9.6231e6, 9.6342e6, 9.6468e6, 9.6523e6, 9.6617e6, 9.6741e6}, false},
	} {
		sky := quiet
		for _, at := range test.at {
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: heardAt(at, 0, 12), Level: -80, From: last})
		}
		r, err := ofNoise(t, sky)
		if refused := err != nil && strings.Contains(err.Error(), "6 of 6 lines stand on the raster of broadcasters: an antenna seems to be connected"); refused != test.refused || !refused && err != nil {
			t.Errorf("%s: %v, doubts %q", name, err, r.Doubts)
		}
	}
}

// Own noise that moves next to no codes tells nothing of the passband: a tuner is told so, direct sampling has none.
// An earlier run's curve is taken out then, and its number kept.
func TestPassbandNotMeasured(t *testing.T) {
	for way, doubted := range map[string]bool{survey.WayTuner: true, survey.WayDirectQ: false} {
		r, err := measureThrough(t, way, survey.CalibrateNoise, capturetest.Sky{Floor: -120, Gains: []survey.DB{0}}, calibrate.Settings{}, survey.Calibration{ID: 4, Droop: []survey.Droop{{}}})
		if err != nil || len(r.Droop) != 0 || r.DroopCalibration != 4 || r.Curve() != 4 || strings.Contains(strings.Join(r.Doubts, "; "), "passband not measured: own noise does not stand 10 dB over") != doubted {
			t.Errorf("%s: %v, %q", way, err, r.Doubts)
		}
	}
}

// A dull receiver changes its gain by a share of what is asked.
type dull struct {
	*capturetest.Fake
	share survey.DB
}

func (d dull) SetGain(ctx context.Context, asked survey.DB) (survey.Gain, error) {
	_, err := d.Fake.SetGain(ctx, 30+d.share*(asked-30))
	return survey.Gain{DB: asked, Known: true, Exact: true}, err
}

// A receiver whose gain stays where it is has the same floor at all steps. One whose floor rises by 4 of 22 dB may
// have a noise figure that falls as gain rises; of 19 dB nothing is said.
func TestNoiseThatIgnoresTheGain(t *testing.T) {
	for _, test := range []struct {
		floor       survey.DBmPerHz
		share, most survey.DB
		doubted     bool
	}{{-120, 1, 40, false}, {-120, 0, 40, true}, {-120, 2.5 / 22, 40, true}, {-120, 4. / 22, 40, false}, {-120, 0, 37, false}, {-150, 0, 40, true}} { // the last moves no code
		sky := capturetest.Sky{Floor: test.floor}
		for g := survey.DB(0); g <= 60; g++ {
			sky.Gains = append(sky.Gains, g)
		}
		f := capturetest.New(sky)
		setup := survey.Setup{Antenna: "loop", Placement: "attic"}
		k, err := calibrate.New(steps{dull{f, test.share}, []survey.DB{18, 24, 30, test.most}}, f, plan.Plan{Segments: []survey.Segment{part31m}, Dwell: 100 * time.Millisecond, Setups: []survey.Setup{setup}}, setup)
		if err != nil {
			t.Fatal(err)
		}
		run := calibrate.NewRun(k, plan.Plan{}, survey.Calibration{Kind: survey.CalibrateNoise}, calibrate.Settings{})
		err = run.Measure(t.Context())
		if doubts := strings.Join(run.Doubts, "; "); err != nil || strings.Contains(doubts, "the floor of 31 m is the same at all gains from 18.0 to ") != test.doubted {
			t.Errorf("%+v: %v, %q", test, err, doubts)
		}
	}
}

// steps says that a receiver has other steps of gain.
type steps struct {
	dull
	gains []survey.DB
}

func (s steps) Info() capture.Info {
	i := s.dull.Info()
	i.Gains = s.gains
	return i
}
