package result

import (
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// Quality is what each survey holds, and what speaks against it.
type Quality struct {
	Schema       string               `json:"schema"`
	Surveys      []QualitySurvey      `json:"surveys"`
	Calibrations []QualityCalibration `json:"calibrations"` // that served their readings, oldest first
}

// QualitySurvey is the quality of one survey.
type QualitySurvey struct {
	Survey    int64          `json:"survey"`
	Name      *string        `json:"name"` // of a survey of imports; nil: it has none
	Simulated bool           `json:"simulated"`
	First     *time.Time     `json:"first"`
	Last      *time.Time     `json:"last"`
	Rounds    int            `json:"rounds"`
	Sweeps    int            `json:"sweeps"`
	Readings  int            `json:"readings"`
	Flagged   map[string]int `json:"flagged"`
	Gaps      []QualityGap   `json:"gaps"`
	Events    []QualityEvent `json:"events"` // in order of time
	Visits    *QualityVisits `json:"visits"` // nil: not kept
	Ending    *string        `json:"ending"`
	// OwnNoise is what controls showed of own noise, in turns with the antennas; empty: no such control.
	OwnNoise []QualityOwnNoise `json:"own_noise"`
	// DroopCalibration is the calibration whose curve of the passband was taken out of its readings; nil: none.
	DroopCalibration *int64 `json:"droop_calibration"`
}

// QualityOwnNoise is own noise in a segment at a gain, as a control showed it: the receiver's through a
// terminator at its input, or with it the amplifier's of an antenna whose element was replaced.
type QualityOwnNoise struct {
	survey.Setup
	Of      *string    `json:"of"` // the antenna whose amplifier it is; nil: it is the receiver's
	Segment string     `json:"segment"`
	Gain    survey.DB  `json:"gain_db"`
	Visits  int        `json:"visits"`
	From    time.Time  `json:"from"`
	To      time.Time  `json:"to"`
	Drift   *survey.DB `json:"drift_db"` // highest over lowest of means over three visits in a row; nil: too few visits
}

// QualityGap is a stretch without readings.
type QualityGap struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	Why  string    `json:"why"`
}

// QualityEvent is what a person noted. Repeaked is the antenna that is another from
// then on, nil for any other event.
type QualityEvent struct {
	At       time.Time `json:"at"`
	Text     string    `json:"text"`
	Repeaked *string   `json:"repeaked"`
}

// QualityVisits tells how the setups of a survey were put in place: as asked, another
// one than asked, or not known to be in place, so that nothing was measured.
type QualityVisits struct {
	Asked     int `json:"asked"`
	Elsewhere int `json:"elsewhere"`
	Missed    int `json:"missed"`
	// Unconfirmed are those that were taken for reached though nobody had answered the
	// question before.
	Unconfirmed int           `json:"unconfirmed"`
	Why         []QualityMiss `json:"why"` // of the last two, by reason; empty, never nil
}

// QualityMiss is a reason why visits did not reach what was asked for.
type QualityMiss struct {
	Why    string    `json:"why"`
	Missed bool      `json:"missed"` // nothing was measured; else another setup was in place
	Visits int       `json:"visits"`
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
}

// QualityCalibration is a calibration that served readings: what levels in dBm,
// receiver margins and lines left out rest on.
type QualityCalibration struct {
	Calibration int64              `json:"calibration"`
	Kind        string             `json:"kind"`
	Receiver    string             `json:"receiver"`
	At          time.Time          `json:"at"`
	Note        string             `json:"note"`      // what was connected
	Droop       bool               `json:"droop"`     // what the receiver's filters take off was measured
	Surveys     []int64            `json:"surveys"`   // whose readings it served
	Linearity   []survey.Linearity `json:"linearity"` // empty, never nil
	// Level is how well its full scale is known, at the gain at which it is known worst, at its own time and frequency.
	Level  *level.Budget `json:"full_scale_budget"`
	Doubts []doubt.Doubt `json:"doubts"` // empty, never nil
}
