package calibrate_test

import (
	"slices"
	"strings"
	"testing"

	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// A generator of −60 dBm clips at every gain at which own noise stands over the converter's steps. The labels tell, to some
// decibels, what the noise figure would be: 8 dB, and as much off it as the level is told wrongly.
func TestUncheckedLevel(t *testing.T) {
	sky := capturetest.Sky{Floor: level.RoomNoise + 8, Gains: []survey.DB{24, 30, 36, 42, 48, 54, 60, 66, 72}, Seed: 4}
	noise, err := measure(t, survey.CalibrateNoise, sky, calibrate.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	sky.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: -60}}
	of := func(told survey.DBm, changed bool, earlier ...survey.Calibration) (*calibrate.Run, string) {
		s := calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.65e6, Level: told, Uncertainty: 1, Changed: changed}
		r, err := measure(t, survey.CalibrateLevel, sky, s, earlier...)
		if err != nil {
			return r, "refused: " + err.Error()
		}
		return r, strings.Join(r.Doubts, "; ")
	}
	const add = "add a run at a level 20 dB lower"
	for told, want := range map[survey.DBm][]string{
		-60: {"could not be checked by the noise figure", "would be about 8 dB", add},
		-73: {"would be about −5 dB", add}, // labels may be off by so much
		-76: {"refused", "would be about −8 dB", "nothing real is under 0", "calibrate remove 10"},
		-80: {"refused", "would be under −0.6 dB", "nothing real is under 0"}, // by own noise of too few codes, labels aside
		-40: {"would be about 28 dB", "was it told at the receiver's input", add},
	} {
		_, said := of(told, false, noise.Calibration)
		for _, w := range want {
			if !strings.Contains(said, w) {
				t.Errorf("told %v dBm: %q, want %q", told, said, w)
			}
		}
	}
	// The noise figure of another band, far away in frequency, checks nothing.
	far := noise.Calibration
	far.Noise = slices.Clone(far.Noise)
	for _, n := range noise.Noise {
		if n.Gain == 66 {
			n.Segment, n.Gain = survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.2e6}, 48
			far.Noise = append(far.Noise, n)
		}
	}
	if r, said := of(-40, false, far); len(r.Figures) == 0 || !strings.Contains(said, "would be about 28 dB") {
		t.Errorf("beside a noise figure of another band: %v, %q", r.Figures, said)
	}
	const run = "run nightfloor calibrate noise, which checks it"
	if _, said := of(-80, false); !strings.Contains(said, run) {
		t.Errorf("without own noise: %q", said)
	}
	if _, said := of(-80, true, noise.Calibration); !strings.Contains(said, run) {
		t.Errorf("changed: %q", said)
	}

	// A lower level that tells the noise figure tells of a higher one that agrees with it.
	low := sky
	low.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: -90}}
	checked, err := measure(t, survey.CalibrateLevel, low, calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.65e6, Level: -90, Uncertainty: 1}, noise.Calibration)
	if err != nil || len(checked.Figures) == 0 {
		t.Fatalf("%v, %q", err, checked.Doubts)
	}
	if _, said := of(-60, false, checked.Calibration, noise.Calibration); said != "" {
		t.Errorf("after a level that was checked: %q", said)
	}
	if _, said := of(-80, false, checked.Calibration, noise.Calibration); !strings.HasPrefix(said, "refused: the noise figure would be under −0.6 dB") || !strings.Contains(said, "the level was told too low") {
		t.Errorf("told wrongly after a level that was checked: %q", said)
	}
}
