// Package calibration shows what a calibration of the receiver found: as tables for
// a person, and as JSON.
//
// A Run is what one run of calibrate found; its WriteText and Document show it. ListText
// and ListOf show the calibrations that a database holds. Nothing is reckoned here.
package calibration

import (
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A Run is a calibration as it is shown: what is stored, and what is to be said of it
// beside that.
type Run struct {
	survey.Calibration
	Simulated   bool
	SelfNoise   []Noise   // of a calibration of noise
	Left        []Left    // of a calibration of levels
	LeftWords   []string  // the same gathered by why, a line each
	Attenuation survey.DB // of a calibration of linearity
	PlanPPM     float64   // of a calibration of the clock: what the plan corrects for
	NewPPM      float64   // what the plan is to correct for
	Doubts      []string  // in words
}

// Noise is own noise with what speaks against it.
type Noise struct {
	survey.SelfNoise
	Flags    []string
	Doubtful bool // too few codes moved for the figure to be good
}

// Left is a gain that gave no level, and why.
type Left struct {
	Gain survey.DB
	Why  string
}

// Schema names the layout of a Document.
const Schema = "nightfloor/calibration/1"

// A Document is a calibration as JSON; what its kind does not have is null.
type Document struct {
	Schema    string                    `json:"schema"`
	ID        *int64                    `json:"calibration"`
	Kind      string                    `json:"kind"`
	Receiver  string                    `json:"receiver"`
	Simulated bool                      `json:"simulated"`
	At        time.Time                 `json:"at"`
	Note      string                    `json:"note"`
	Noise     []NoiseRow                `json:"self_noise"`
	Levels    []LevelRow                `json:"level_references"`
	Left      []LeftRow                 `json:"left_out"`
	Linearity []result.LinearityVerdict `json:"linearity"`
	Lines     []LineRow                 `json:"own_lines"`
	Clock     *ClockRow                 `json:"clock_error"`
	Doubts    []string                  `json:"doubts"`
}

// A NoiseRow is own noise of one segment at one gain.
type NoiseRow struct {
	Segment string   `json:"segment"`
	Low     float64  `json:"low_hz"`
	High    float64  `json:"high_hz"`
	Gain    float64  `json:"gain_db"`
	Density float64  `json:"density_dbfs_hz"`
	Sigma   float64  `json:"sigma_db"`
	Flags   []string `json:"flags"`
}

// A LevelRow is what 0 dBFS stands for at one gain.
type LevelRow struct {
	Frequency float64 `json:"frequency_hz"`
	Gain      float64 `json:"gain_db"`
	FullScale float64 `json:"full_scale_dbm"`
	Sigma     float64 `json:"sigma_db"`
	Basis     string  `json:"basis"`
}

// A LeftRow is a gain that gave no level, and why.
type LeftRow struct {
	Gain float64 `json:"gain_db"`
	Why  string  `json:"why"`
}

// A LineRow is a line that is there without an antenna.
type LineRow struct {
	Frequency float64 `json:"frequency_hz"`
	Gain      float64 `json:"gain_db"`
	Level     float64 `json:"level_dbfs"`
}

// A ClockRow is the clock error beyond the plan's, and what the plan is to say.
type ClockRow struct {
	PPM      float64 `json:"ppm"`
	Sigma    float64 `json:"sigma_ppm"`
	Stations int     `json:"stations"`
	Plan     float64 `json:"plan_clock_error_ppm"` // what the plan says now
	New      float64 `json:"clock_error_ppm"`      // what it is to say
}

// Document gives the calibration as JSON has it.
func (r Run) Document() Document {
	d := Document{Schema: Schema, Kind: r.Kind, Receiver: r.Receiver, Simulated: r.Simulated, At: r.At, Note: r.Note, Doubts: append([]string{}, r.Doubts...)}
	if r.ID != 0 {
		d.ID = &r.ID
	}
	if r.Kind == survey.CalibrateNoise {
		for _, n := range r.SelfNoise {
			d.Noise = append(d.Noise, NoiseRow{n.Segment.Name, float64(n.Segment.Low), float64(n.Segment.High), float64(n.Gain), float64(n.Density), float64(n.Sigma), append([]string{}, n.Flags...)})
		}
	}
	for _, l := range r.Levels {
		d.Levels = append(d.Levels, LevelRow{float64(l.Frequency), float64(l.Gain), float64(l.FullScale), float64(l.Sigma), l.Basis})
	}
	if r.Kind == survey.CalibrateLevel {
		d.Left = []LeftRow{}
		for _, l := range r.Left {
			d.Left = append(d.Left, LeftRow{float64(l.Gain), l.Why})
		}
	}
	for _, l := range r.Linearity {
		d.Linearity = append(d.Linearity, result.VerdictOf(l))
	}
	if r.Kind == survey.CalibrateLines {
		d.Lines = []LineRow{}
		for _, l := range r.Lines {
			d.Lines = append(d.Lines, LineRow{float64(l.Frequency), float64(l.Gain), float64(l.Level)})
		}
	}
	if r.Clock != nil {
		d.Clock = &ClockRow{r.Clock.PPM, r.Clock.Sigma, r.Clock.Stations, r.PlanPPM, r.NewPPM}
	}
	return d
}
