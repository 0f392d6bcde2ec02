package input

import (
	"testing"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
	"nightfloor/survey/level"
	"nightfloor/survey/sun"
)

// Over a day in autumn it is night while the sun stands below civil twilight, −6°, day while
// it stands over +6°, and between them dawn before noon, dusk after it.
func TestPeriodsByTheSun(t *testing.T) {
	const lat, lon = 52.5, 7.5
	seen := map[string]bool{}
	for minute := range 24 * 60 {
		at := time.Date(2026, 11, 3, 0, minute, 0, 0, time.UTC)
		twilight := result.PeriodDawn
		if minute >= 11*60+14 { // 12:00 − 7.5°·4 min/° − the equation of time of 16 min
			twilight = result.PeriodDusk
		}
		want := ""
		switch h := sun.Elevation(at, lat, lon); {
		case h < -7:
			want = result.PeriodNight
		case h > 7:
			want = result.PeriodDay
		case h > -5 && h < 5:
			want = twilight
		default:
			continue // too near to the edge
		}
		seen[want] = true
		if got := PeriodAt(at, lat, lon); got != want {
			t.Fatalf("%v: %s, want %s", at, got, want)
		}
	}
	if len(seen) != 4 {
		t.Errorf("periods %v, want four", seen)
	}
}

// Levels measured with a generator at two gains make a step where both were measured within a
// few per cent of one frequency; else the difference is the front end's over frequency, too.
func TestSteps(t *testing.T) {
	at := func(gain survey.DB, frequency survey.Hz, fullScale survey.DBm) (*survey.Reading, *CalibrationFor) {
		return &survey.Reading{Segment: survey.Segment{Name: "31 m"}, Gain: survey.Gain{DB: gain, Known: true}},
			&CalibrationFor{Level: &level.Level{Basis: survey.BasisGenerator, Frequency: frequency, FullScale: fullScale}}
	}
	steps := gainSteps{}
	steps.anchor(at(20, 9.5e6, -40))
	// 12.5 dB more gain than at the label 20, whatever its own label says.
	if got := steps.measured(at(30, 9.5e6*1.04, -52.5)); !got.Exact || got.DB != 32.5 {
		t.Errorf("4 %% away: %+v, want exactly 32.5 dB", got)
	}
	if got := steps.measured(at(30, 9.5e6*1.08, -52.5)); got.Exact || got.DB != 30 {
		t.Errorf("8 %% away: %+v, want the label", got)
	}
}

// Of an amateur band asked for without that word the whole name is told.
func TestAmateurSegmentNamed(t *testing.T) {
	in := Input{Sweeps: []*survey.Sweep{{Readings: []survey.Reading{{Segment: survey.Segment{Name: "20 m amateur", Low: 14e6, High: 14.35e6}}}}}}
	const want = `segment "20m": not in the database; for the amateur band write "20 m amateur"`
	if _, err := in.segmentNamed("20m", "the database"); err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}
