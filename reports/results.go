// Package reports turns stored sweeps into answers, and shows them.
//
// Statistics are pure functions from rows (package survey) to the results in
// this file; every rendering (table, JSON, CSV, page) takes the same results. A
// figure that does not apply is nil. Levels and densities are in dB against
// full scale, differences in dB, frequencies in Hz, times in UTC.
package reports

import (
	"time"

	"nightfloor/survey"
)

// Schemas of the JSON documents.
const (
	SchemaRank    = "nightfloor/rank/1"
	SchemaFloor   = "nightfloor/floor/1"
	SchemaQuality = "nightfloor/quality/1"
)

// Rank is the answer to "which setup hears best": setups by SNR against a
// reference, for each segment and period.
type Rank struct {
	Schema    string        `json:"schema"`
	Simulated bool          `json:"simulated"`
	Reference survey.Setup  `json:"reference"`
	Segments  []RankSegment `json:"segments"`
}

// RankSegment ranks the setups in one segment over one period.
type RankSegment struct {
	Segment string      `json:"segment"`
	Low     survey.Hz   `json:"low_hz"`
	High    survey.Hz   `json:"high_hz"`
	Period  string      `json:"period"` // all, day, dusk, night, dawn
	Setups  []RankSetup `json:"setups"`
	// Controls are what comes without an antenna, over the whole time; empty for a
	// period of the day and where there is no control setup.
	Controls []Control `json:"controls"`
	Doubts   []string  `json:"doubts"` // in words; empty, never nil
}

// RankSetup is one setup's place. Advantages are mean differences in dB from
// the reference; Low and High bound the 95 % interval. BestShare is the share of
// resamples in which the setup came first.
type RankSetup struct {
	survey.Setup
	Rank         int        `json:"rank"`
	SNRAdvantage *survey.DB `json:"snr_advantage_db"`
	Low          *survey.DB `json:"low_db"`
	High         *survey.DB `json:"high_db"`
	SignalChange *survey.DB `json:"signal_change_db"`
	FloorChange  *survey.DB `json:"floor_change_db"`
	BestShare    *float64   `json:"best_share"`
	MayBeBest    bool       `json:"may_be_best"`
	Rounds       int        `json:"rounds"`
	Carriers     int        `json:"carriers"`
	Flags        []string   `json:"flags"` // empty, never nil
}

// Quantiles are the 10th, 50th and 90th percentile.
type Quantiles struct {
	P10 float64 `json:"p10"`
	P50 float64 `json:"p50"`
	P90 float64 `json:"p90"`
}

// FloorTable is the floor through the survey, an hour a row.
type FloorTable struct {
	Schema    string     `json:"schema"`
	Simulated bool       `json:"simulated"`
	Rows      []FloorRow `json:"rows"`
	Doubts    []string   `json:"doubts"` // in words; empty, never nil
}

// FloorRow is the floor of one segment through one setup in one hour. Rows of one
// segment that have a Gain stand at the same and compare, across hours and setups;
// a row whose Gain is nil compares with no other.
type FloorRow struct {
	Segment string    `json:"segment"`
	Low     survey.Hz `json:"low_hz"`
	High    survey.Hz `json:"high_hz"`
	survey.Setup
	From     time.Time  `json:"from"`
	To       time.Time  `json:"to"`
	Readings int        `json:"readings"`
	Gain     *survey.DB `json:"gain_db"` // that the levels are referred to
	DBFSHz   *Quantiles `json:"floor_dbfs_hz"`
	// At the receiver's input, the receiver's own noise subtracted where it is known;
	// an upper bound, nothing subtracted, where most readings are under 3 dB of margin.
	DBmHz    *Quantiles `json:"floor_dbm_hz"`
	DBmSigma *survey.DB `json:"floor_dbm_sigma_db"` // standard error of its median, calibration included
	Fa       *Quantiles `json:"fa_db"`
	Margin   *survey.DB `json:"receiver_margin_db"` // median over the readings
	Limited  int        `json:"receiver_limited"`   // readings of which the floor is an upper bound
}

// Quality is what each survey holds, and what speaks against it.
type Quality struct {
	Schema  string          `json:"schema"`
	Surveys []QualitySurvey `json:"surveys"`
}

// QualitySurvey is the quality of one survey.
type QualitySurvey struct {
	Survey    int64          `json:"survey"`
	Simulated bool           `json:"simulated"`
	First     *time.Time     `json:"first"`
	Last      *time.Time     `json:"last"`
	Rounds    int            `json:"rounds"`
	Sweeps    int            `json:"sweeps"`
	Readings  int            `json:"readings"`
	Flagged   map[string]int `json:"flagged"`
	Gaps      []QualityGap   `json:"gaps"`
	Ending    *string        `json:"ending"`
}

// QualityGap is a stretch without readings.
type QualityGap struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	Why  string    `json:"why"`
}

// Waterfall is the floor's spectrum through the night in one segment through
// one setup: time against frequency, for the page. Pictures of one segment that
// have a Gain compare, as rows of the floor do.
type Waterfall struct {
	Segment   string
	Setup     survey.Setup
	Gain      *survey.DB // that the levels are referred to; nil: compares with no other
	Low, High survey.Hz
	Times     []time.Time // middle of each row
	Columns   int
	DBFSHz    []float32 // len(Times) × Columns, row by row; NaN where nothing was measured
}

// Report is everything a survey has to say.
type Report struct {
	Title     string
	Simulated bool
	Made      time.Time
	Version   string
	Surveys   []survey.Survey
	Site      survey.Site
	Rank      Rank
	Floor     FloorTable
	Quality   Quality
	Pictures  []Waterfall
	Doubts    []string // over the whole survey
}
