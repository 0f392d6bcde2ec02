package reporttest

import (
	"time"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

// Exact is a gain that was measured.
func Exact(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true, Exact: true} }

// Label is a gain that is a label.
func Label(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true} }

// What the surveys of Gains were made in and through.
var (
	GainSegment = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	GainStart   = time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)
	Whip        = survey.Setup{Antenna: "whip", Placement: "attic"}
	Loop        = survey.Setup{Antenna: "loop", Placement: "attic"}
)

// AtGain is a sweep with one reading, so many minutes after the start; its number is
// the minute.
func AtGain(setup survey.Setup, minute int, gain survey.Gain, floor survey.DBFSPerHz) *survey.Sweep {
	at := GainStart.Add(time.Duration(minute) * time.Minute)
	return &survey.Sweep{Survey: 1, Round: minute + 1, Setup: setup, Start: at, Readings: []survey.Reading{{ID: int64(minute), Start: at,
		Duration: time.Second, Segment: GainSegment, Gain: gain, Floor: &survey.Floor{Density: floor}}}}
}

// OfWhip is a survey of sweeps whose first setup is the whip.
func OfWhip(sweeps ...*survey.Sweep) input.Input {
	return input.Input{Surveys: []survey.Survey{{ID: 1, First: Whip, Start: GainStart}}, Sweeps: sweeps}
}

// Flat is a spectrum of one level.
func Flat(level float32) *survey.Spectrum {
	s := &survey.Spectrum{First: 9.4e6, Step: 1000, ENBW: 1.5, Density: make([]float32, 500)}
	for i := range s.Density {
		s.Density[i] = level
	}
	return s
}
