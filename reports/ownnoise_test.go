package reports

import (
	"math"
	"testing"
	"time"

	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const kT0 = -173.975 // dBm/Hz, of 290 K

// over gives the sum of two power densities, dB.
func over(a, b float64) float64 { return stats.Decibel(stats.FromDecibel(a) + stats.FromDecibel(b)) }

// A terminator delivers kT0 of its own, which an antenna does not: subtracting what was measured
// into it takes kT0 too much, and −163.0 dBm/Hz reads −163.4 with a noise figure of 8 dB.
func TestThermalNoiseOfTheTerminator(t *testing.T) {
	const figure, outside, fullScale = 8.0, -163.0, -20.0
	own := kT0 + figure
	added := stats.Decibel(stats.FromDecibel(own) - stats.FromDecibel(kT0)) // the receiver's, without the terminator's
	reading := over(outside, added)
	in := ofWhip(atGain(whip, 0, label(30), survey.DBFSPerHz(reading-fullScale)))
	in.Surveys[0].Receiver = dongle
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, survey.DBFSPerHz(own-fullScale)), levelRun(survey.BasisGenerator, 0, fullScale)}
	r := floor.Of(reporttest.Selected(in, input.Options{})).Rows[0]
	if r.DBmHz == nil || math.Abs(r.DBmHz.P50-outside) > 0.005 {
		t.Fatalf("%+v, want %v dBm/Hz", r.DBmHz, outside)
	}
	// Against full scale the same is taken out, where full scale is known; else what was measured.
	cell := func() float64 {
		s := reporttest.Selected(in, input.Options{})
		return stats.Decibel(matrix.New(s.Input, gainSegment).Cells[0][0].External.Floor) + fullScale
	}
	if got := cell(); math.Abs(got-outside) > 0.005 {
		t.Errorf("%.3f dBm/Hz, want %v", got, outside)
	}
	in.Calibrations = in.Calibrations[:1]
	if got, want := cell(), -163.36; math.Abs(got-want) > 0.005 {
		t.Errorf("%.3f dBm/Hz without full scale, want %v", got, want)
	}
	// Less noise than kT0 no receiver has: the calibration is wrong, and nothing is added to the floor.
	in.Calibrations = []survey.Calibration{noiseRun(time.Hour, kT0-1-fullScale), levelRun(survey.BasisGenerator, 0, fullScale)}
	if got := cell(); math.Abs(got-reading) > 0.005 {
		t.Errorf("%.3f dBm/Hz, want %.3f", got, reading)
	}
}
