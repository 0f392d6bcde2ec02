// Package calibration shows what a calibration of the receiver found: as tables for
// a person, and as JSON.
//
// A Run is what one run of calibrate found; its WriteText and Document show it. ListText
// and ListOf show the calibrations that a database holds. Nothing is reckoned here.
package calibration

import (
	"time"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// A Run is a calibration as it is shown: what is stored, and what is to be said of it
// beside that.
type Run struct {
	survey.Calibration
	Simulated   bool
	SelfNoise   []survey.MeasuredNoise // of a calibration of noise
	Left        []survey.SkippedStep   // of a calibration of levels
	Figures     []level.Figure         // noise figures that own noise and levels imply
	LeftWords   []string               // the same gathered by why, a line each
	Found       survey.Hz              // where the generator's carrier stands by the receiver's clock; 0: there is none
	FoundWords  string                 // that in words, where it is not what was told
	Attenuation survey.DB              // of a calibration of linearity
	PlanPPM     float64                // of a calibration of the clock: what the plan corrects for
	NewPPM      float64                // what the plan is to correct for
	Doubts      []string               // in words
}

// Schema names the layout of a Document.
const Schema = "nightfloor/calibration/1"

// A Document is a calibration as JSON; what its kind does not have is null.
type Document struct {
	Schema    string                 `json:"schema"`
	ID        *int64                 `json:"calibration"`
	Kind      string                 `json:"kind"`
	Receiver  string                 `json:"receiver"`
	Simulated bool                   `json:"simulated"`
	At        time.Time              `json:"at"`
	Note      string                 `json:"note"`
	Noise     []survey.MeasuredNoise `json:"self_noise"`
	Droop     []survey.Droop         `json:"droop"` // null: the passband was not measured
	Levels    []LevelRow             `json:"level_references"`
	Figures   []level.Figure         `json:"noise_figures"`
	Found     *survey.Hz             `json:"frequency_found_hz"` // the generator's, by the receiver's clock
	Left      []survey.SkippedStep   `json:"left_out"`
	Linearity []survey.Linearity     `json:"linearity"`
	Lines     []survey.OwnLine       `json:"own_lines"`
	Clock     *ClockRow              `json:"clock_error"`
	Doubts    []string               `json:"doubts"`
}

// A LevelRow is a level reference with its budget at its own frequency and time.
type LevelRow struct {
	survey.LevelReference
	Known  survey.DB    `json:"full_scale_uncertainty_db"` // standard uncertainty of FullScale
	Budget level.Budget `json:"full_scale_budget"`
}

// A ClockRow is the clock error beyond the plan's, and what the plan is to say.
type ClockRow struct {
	survey.ClockError
	Plan float64 `json:"plan_clock_error_ppm"` // what the plan says now
	New  float64 `json:"clock_error_ppm"`      // what it is to say
}

// Document gives the calibration as JSON has it.
func (r Run) Document() Document {
	d := Document{Schema: Schema, Kind: r.Kind, Receiver: r.Receiver, Simulated: r.Simulated, At: r.At, Note: r.Note,
		Droop: r.Droop, Linearity: r.Linearity, Doubts: append([]string{}, r.Doubts...)}
	if r.ID != 0 {
		d.ID = &r.ID
	}
	if r.Found != 0 {
		d.Found = &r.Found
	}
	switch r.Kind {
	case survey.CalibrateNoise:
		d.Noise, d.Figures = r.SelfNoise, append([]level.Figure{}, r.Figures...)
	case survey.CalibrateLevel:
		d.Left, d.Figures = append([]survey.SkippedStep{}, r.Left...), append([]level.Figure{}, r.Figures...)
		for _, l := range r.Levels {
			budget := level.AtOnce(l)
			d.Levels = append(d.Levels, LevelRow{l, budget.Total(), budget})
		}
	case survey.CalibrateLines:
		d.Lines = append([]survey.OwnLine{}, r.Lines...)
	}
	if r.Clock != nil {
		d.Clock = &ClockRow{*r.Clock, r.PlanPPM, r.NewPPM}
	}
	return d
}

// SchemaList names the layout of a List.
const SchemaList = "nightfloor/calibrations/1"

// A List is the calibrations of a database as JSON, oldest first.
type List struct {
	Schema       string   `json:"schema"`
	Calibrations []Stored `json:"calibrations"`
}

// Stored is one of them.
type Stored struct {
	ID        int64              `json:"calibration"`
	Kind      string             `json:"kind"`
	Receiver  string             `json:"receiver"`
	At        time.Time          `json:"at"`
	Note      string             `json:"note"`
	Figures   int                `json:"figures"`
	Droop     bool               `json:"droop"`     // what the receiver's filters take off was measured
	Linearity []survey.Linearity `json:"linearity"` // empty, never nil
	// DroopCalibration is the calibration whose curve of the passband was taken out of what it measured, itself where it has
	// one; nil: none.
	DroopCalibration *int64 `json:"droop_calibration"`
}

// ListOf lists calibrations.
func ListOf(all []survey.Calibration) List {
	list := List{SchemaList, []Stored{}}
	for _, k := range all {
		stored := Stored{k.ID, k.Kind, k.Receiver, k.At, k.Note, figures(k), len(k.Droop) > 0, append([]survey.Linearity{}, k.Linearity...), nil}
		if curve := k.Curve(); curve != 0 {
			stored.DroopCalibration = &curve
		}
		list.Calibrations = append(list.Calibrations, stored)
	}
	return list
}
