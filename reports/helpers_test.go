package reports

import (
	"time"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

// exact is a gain that was measured.
func exact(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true, Exact: true} }

// label is a gain that is a label.
func label(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true} }

// What the surveys of one segment were made in and through.
var (
	gainSegment = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	gainStart   = time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)
	whip        = survey.Setup{Antenna: "whip", Placement: "attic"}
	loop        = survey.Setup{Antenna: "loop", Placement: "attic"}
)

// atGain is a sweep with one reading, so many minutes after the start; its number is
// the minute.
func atGain(setup survey.Setup, minute int, gain survey.Gain, floor survey.DBFSPerHz) *survey.Sweep {
	at := gainStart.Add(time.Duration(minute) * time.Minute)
	return &survey.Sweep{Survey: 1, Round: minute + 1, Setup: setup, Start: at, Readings: []survey.Reading{{ID: int64(minute), Start: at,
		Duration: time.Second, Segment: gainSegment, Gain: gain, Floor: &survey.Floor{Density: floor}}}}
}

// ofWhip is a survey of sweeps whose first setup is the whip.
func ofWhip(sweeps ...*survey.Sweep) input.Input {
	return input.Input{Surveys: []survey.Survey{{ID: 1, First: whip, Start: gainStart}}, Sweeps: sweeps}
}

// flat is a spectrum of one level.
func flat(level float32) *survey.Spectrum {
	s := &survey.Spectrum{First: 9.4e6, Step: 1000, ENBW: 1.5, Density: make([]float32, 500)}
	for i := range s.Density {
		s.Density[i] = level
	}
	return s
}
