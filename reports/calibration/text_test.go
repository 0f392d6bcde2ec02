package calibration

import (
	"bytes"
	"flag"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

var update = flag.Bool("update", false, "rewrite the golden file of 80 columns")

// Tables for a person: a row a gain, marks for doubtful steps, one line for the plan.
func TestTables(t *testing.T) {
	var narrow bytes.Buffer // what all of them are with 80 columns
	segments := []survey.Segment{{Name: "49 m", Low: 5.9e6, High: 6.2e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}}
	noise := func(segment int, gain survey.DB, density survey.DBFSPerHz, doubtful bool) survey.MeasuredNoise {
		return survey.MeasuredNoise{Doubtful: doubtful, SelfNoise: survey.SelfNoise{Segment: segments[segment], Gain: gain, Density: density, Sigma: 0.04}}
	}
	drop := survey.DB(9.84)
	for _, test := range []struct {
		run  Run
		want string
	}{
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateNoise, Droop: []survey.Droop{{Offset: -8e5, Response: -3.62}, {}, {Offset: 8e5, Response: -3.4}}}, Doubts: []string{"2 of 4 figures"},
			SelfNoise: []survey.MeasuredNoise{noise(0, 0, -112.3, true), noise(0, 49.6, -98.25, false), noise(1, 0, -112.31, true), noise(1, 49.6, -99, false)}},
			`Own noise, dBFS/Hz, into a terminator

  gain, dB      49 m      31 m
  0.0       −112.30*  −112.31*
  49.6       −98.25    −99.00

standard error 0.04 dB at the most; * too few codes moved, up to 2.5 dB
passband measured: the filters take off up to 3.6 dB, which is put back in what is recorded from
now on
! 2 of 4 figures
`},
		// What the converter's steps make of silence is alike at all gains; one row of it,
		// and one in which a segment differs, stay.
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateNoise},
			SelfNoise: []survey.MeasuredNoise{noise(0, 0, -108.97, true), noise(0, 0.9, -108.96, true), noise(0, 36.4, -108.97, true), noise(0, 37.2, -108.97, true), noise(0, 49.6, -100, false),
				noise(1, 0, -108.97, true), noise(1, 0.9, -108.97, true), noise(1, 36.4, -108.98, true), noise(1, 37.2, -107, true), noise(1, 49.6, -101, false)}},
			`Own noise, dBFS/Hz, into a terminator

0.0 to 36.4 dB: under the converter's steps, −108.97
  gain, dB      49 m      31 m
  37.2      −108.97*  −107.00*
  49.6      −100.00   −101.00

standard error 0.04 dB at the most; * too few codes moved, up to 2.5 dB
`},
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateLevel, Levels: []survey.LevelReference{
			{Frequency: 9.65e6, Gain: 0, FullScale: -40.1, Sigma: 0.02, Basis: survey.BasisGenerator},
			{Frequency: 9.65e6, Gain: 14.4, FullScale: -55.2, Sigma: 0.01, Basis: survey.BasisGenerator},
			{Frequency: 9.65e6, Gain: 15.7, FullScale: -56, Sigma: 0.01, Basis: survey.BasisGenerator}}},
			Found: 9.66e6, FoundWords: "found at 9.66 MHz, 10 kHz higher, by the receiver's clock",
			LeftWords: []string{"it clips at 48.0, 49.6 dB", "too few codes at 0.9 dB"},
			Figures:   []level.Figure{{Segment: "31 m", Gain: 15.7, Figure: 8.26, Uncertainty: 1.21}, {Segment: "31 m", Gain: 14.4, Figure: 12, Uncertainty: 1.19}, {Segment: "49 m", Gain: 15.7, Figure: 9, Uncertainty: 1.3}}},
			`Level of a tone at 0 dBFS at the receiver's input, by a generator at 9.65 MHz; its carrier was
found at 9.66 MHz, 10 kHz higher, by the receiver's clock; steps from the gain before

  gain, dB  full scale, dBm  step by label, dB  true step, dB  standard error, dB
  0.0                 −40.1                  –              –                0.02
  14.4                −55.2              +14.4         +15.10                0.01
  15.7                −56.0               +1.3          +0.80                0.01

Full scale is known to 1.1 dB (standard uncertainty): generator 1.0, mismatch 0.5 dB. Drift since
now and distance in frequency come on top, where a report uses it.
left out: it clips at 48.0, 49.6 dB
left out: too few codes at 0.9 dB

Noise figure that own noise and level imply, dB

  gain, dB  31 m  49 m
  14.4      12.0     –
  15.7       8.3   9.0

standard uncertainty 1.3 dB at the most; a lower gain has a higher one
`},
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateLevel, Levels: []survey.LevelReference{
			{Frequency: 9.65e6, Gain: 0, FullScale: -40.1, Sigma: 0.02, Basis: survey.BasisFigure},
			{Frequency: 6.05e6, Gain: 0, FullScale: -40.5, Sigma: 0.02, Basis: survey.BasisFigure, Uncertainty: new(survey.DB(3))}}}},
			`Level of a tone at 0 dBFS, dBm at the receiver's input

  gain, dB  9.65 MHz  6.05 MHz
  0.0          −40.1     −40.5

Full scale is known to 3.0 dB (standard uncertainty): noise figure 3.0, mismatch 0.5 dB. Drift
since now and distance in frequency come on top, where a report uses it.
`},
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateLinearity, Linearity: []survey.Linearity{
			{Segment: segments[1], Gain: 28, Attenuation: 10, FloorDrop: &drop, FloorSigma: new(survey.DB(0.12)), OutsideDrop: new(survey.DB(10.1)), OutsideSigma: new(survey.DB(0.34)), Verdict: survey.VerdictExternal}}}},
			`What an attenuator of 10.0 dB takes off, dB

  segment  gain      floor     outside  carriers  of   verdict
  31 m     28.0  9.8 ± 0.1  10.1 ± 0.3         –   0  external

± standard error; outside: the floor without the receiver's own noise
`},
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateLines, Lines: []survey.OwnLine{{Frequency: 9.6e6, Gain: 49.6, Level: -60.04}}}},
			`Lines that are there without an antenna

  frequency  level, dBFS  gain, dB
  9.6 MHz          −60.0      49.6
`},
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateLines}}, "no line is there without an antenna\n"},
		{Run{Calibration: survey.Calibration{Kind: survey.CalibrateClock, Clock: &survey.ClockError{PPM: 7.504, Sigma: 0.041, Stations: 9}},
			PlanPPM: 30, NewPPM: 37.50422},
			`clock error +7.50 ± 0.08 ppm (95 %) beyond the plan's 30.00 ppm, by 9 stations

for [receiver] in the plan:
clock_error = "37.50 ppm"

`},
	} {
		test.run.Attenuation = 10
		var out bytes.Buffer
		if err := test.run.WriteText(&narrow, 80); err != nil {
			t.Error(err)
		}
		narrow.WriteString("\n")
		if err := test.run.WriteText(&out, 120); err != nil || out.String() != test.want {
			t.Errorf("%v\n%s\nwant\n%s", err, out.String(), test.want)
		}
	}
	for line := range strings.Lines(narrow.String()) {
		if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > 80 {
			t.Errorf("a line of %d characters with 80 columns: %s", n, line)
		}
	}
	const path = "testdata/columns-80.txt"
	if *update {
		if err := os.WriteFile(path, narrow.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || narrow.String() != string(want) {
		t.Errorf("with 80 columns: %v\n%s", err, narrow.String())
	}
}
