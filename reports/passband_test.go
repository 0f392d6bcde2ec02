package reports

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

// slope is a curve of the passband that falls by so many dB up to 0.8 MHz on both sides.
func slope(db survey.DB) []survey.Droop {
	return []survey.Droop{{Offset: -0.8e6, Response: -db}, {Offset: 0}, {Offset: 0.8e6, Response: -db}}
}

// Own noise that was measured with another curve of the passband taken out than the readings is off against them at
// the passband's edges: a filter that takes 2.0 dB off at 0.5 MHz, of which the decimation filter's known curve has 0.06 (PHYSICS.md 7.4), leaves
// 1.94 dB. That is said with the segments, and which curve served; curves within 0.1 dB of each other are the same.
func TestOwnNoiseOfAnotherCurve(t *testing.T) {
	run := func(id, curve int64, droop []survey.Droop) survey.Calibration {
		c := noiseRun(time.Hour, -130)
		c.ID, c.DroopCalibration, c.Droop = id, curve, droop
		return c
	}
	kept := survey.Calibration{ID: 1, Kind: survey.CalibratePassband, Receiver: dongle, At: gainStart.Add(-2 * time.Hour), Droop: slope(3.2)}
	const margins = ": margins over own noise, and levels near it, may err by up to "
	for name, test := range map[string]struct {
		curve int64 // of the survey
		runs  []survey.Calibration
		says  string // "": nothing
	}{
		"measured later":        {0, []survey.Calibration{run(3, 0, slope(3.2))}, "survey 1: the passband is corrected in its readings as the receiver's filter is known, in the own noise of calibration 3 as calibration 3 measured it" + margins + "1.9 dB on 31 m"},
		"the same":              {3, []survey.Calibration{run(3, 0, slope(3.2))}, ""},
		"own noise has none":    {1, []survey.Calibration{kept, run(4, 0, nil)}, "survey 1: the passband is corrected in its readings as calibration 1 measured it, in the own noise of calibration 4 as the receiver's filter is known" + margins + "1.9 dB on 31 m"},
		"own noise by the same": {1, []survey.Calibration{kept, run(4, 1, nil)}, ""},
		"alike":                 {1, []survey.Calibration{kept, run(4, 0, slope(3.2+0.15))}, ""},          // 0.094 dB at 0.5 MHz
		"hardly alike":          {1, []survey.Calibration{kept, run(4, 0, slope(3.2+0.17))}, "0.1 dB on"}, // 0.106
		"gone":                  {9, []survey.Calibration{run(3, 0, slope(3.2))}, "survey 1: the passband is corrected as calibration 9 measured it, and that is not there any more: what was taken out of it is not known"},
		"gone from own noise":   {1, []survey.Calibration{kept, run(4, 9, nil)}, "calibration 4: the passband is corrected as calibration 9 measured it, and that is not there any more: what was taken out of it is not known"},
	} {
		s := atGain(whip, 0, label(30), -125)
		s.Readings[0].Centre, s.Readings[0].SampleRate = 9.4e6, 2.4e6 // the segment's edges stand 0 and 0.5 MHz from it
		in := ofWhip(s)
		in.Surveys[0].Receiver, in.Surveys[0].DroopCalibration, in.Surveys[0].Ending = dongle, test.curve, "done"
		in.Calibrations = test.runs
		selected := reporttest.Selected(in, input.Options{})
		q := quality.Of(selected)
		said := fmt.Sprint(quality.Doubts(selected))
		for _, c := range q.Calibrations {
			said += fmt.Sprint(c.Doubts)
		}
		if (test.says == "") == strings.Contains(said, "the passband is corrected") || !strings.Contains(said, test.says) {
			t.Errorf("%s: %s, want %q", name, said, test.says)
		}
		var json, plain bytes.Buffer
		if err := result.WriteJSON(&json, q); err != nil {
			t.Fatal(err)
		}
		if err := text.WriteTable(&plain, q, time.UTC, text.Width); err != nil {
			t.Fatal(err)
		}
		inJSON, inText := `"droop_calibration": null`, ""
		if test.curve != 0 {
			inJSON = fmt.Sprintf(`"droop_calibration": %d`, test.curve)
			inText = fmt.Sprintf("passband corrected as calibration %d measured it", test.curve)
		}
		if surveys, _, _ := strings.Cut(json.String(), `"calibrations"`); !strings.Contains(surveys, inJSON) {
			t.Errorf("%s: %s", name, surveys)
		}
		if strings.Contains(plain.String(), "passband corrected") != (inText != "") || !strings.Contains(plain.String(), inText) {
			t.Errorf("%s: %s", name, plain.String())
		}
	}
}

// An amplifier's noise that another survey's control showed has that survey's curve taken out of it; one in the same
// survey has the same.
func TestAmplifierNoiseOfAnotherCurve(t *testing.T) {
	kept := survey.Calibration{ID: 1, Kind: survey.CalibratePassband, Receiver: dongle, At: gainStart, Droop: slope(3.2)}
	dummy, heard := atGain(survey.Setup{Antenna: "whip dummy", Placement: "attic"}, 0, label(30), -130), atGain(whip, 60, label(30), -125)
	heard.Survey = 2
	for _, s := range []*survey.Sweep{dummy, heard} {
		s.Readings[0].Centre, s.Readings[0].SampleRate = 9.4e6, 2.4e6
	}
	in := ofWhip(dummy, heard)
	in.Surveys = append(in.Surveys, survey.Survey{ID: 2, First: whip, Start: gainStart.Add(time.Hour)})
	for i := range in.Surveys {
		in.Surveys[i].Receiver, in.Surveys[i].Plan = dongle, activeWhip+whipDummy
	}
	in.Calibrations = []survey.Calibration{kept}
	for curve, want := range map[int64]string{0: "the passband is corrected in its readings as calibration 1 measured it, in the own noise that a control showed as the receiver's filter is known: margins over own noise, and levels near it, may err by up to 1.9 dB on 31 m", 1: ""} {
		in.Surveys[0].DroopCalibration, in.Surveys[1].DroopCalibration = curve, 1
		said := fmt.Sprint(quality.Doubts(reporttest.Selected(in, input.Options{})))
		if (want == "") == strings.Contains(said, "the passband is corrected") || !strings.Contains(said, want) {
			t.Errorf("%d: %s, want %q", curve, said, want)
		}
	}
}

// What is left of a calibration that was removed counts as none: a database without others says nothing of calibrations.
func TestKeptCurveIsNoCalibration(t *testing.T) {
	in := ofWhip(atGain(whip, 0, label(30), -125))
	in.Surveys[0].Receiver = dongle
	kept := survey.Calibration{ID: 1, Kind: survey.CalibratePassband, Receiver: dongle, At: gainStart, Droop: slope(1)}
	other := of(survey.CalibrateLevel, time.Hour)
	other.Receiver = "another"
	for runs, want := range map[*survey.Calibration]bool{nil: false, &other: true} {
		in.Calibrations = []survey.Calibration{kept}
		if runs != nil {
			in.Calibrations = append(in.Calibrations, *runs)
		}
		if said := fmt.Sprint(quality.Doubts(reporttest.Selected(in, input.Options{}))); strings.Contains(said, "no calibration is of its receiver") != want {
			t.Errorf("%s", said)
		}
	}
}
