package result

import (
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// Quantiles are the 10th, 50th and 90th percentile.
type Quantiles struct {
	P10 float64 `json:"p10"`
	P50 float64 `json:"p50"`
	P90 float64 `json:"p90"`
}

// FloorTable is the floor through the survey, an hour a row.
type FloorTable struct {
	Schema    string        `json:"schema"`
	Simulated bool          `json:"simulated"`
	Rows      []FloorRow    `json:"rows"`
	Doubts    []doubt.Doubt `json:"doubts"` // empty, never nil
}

// FloorRow is the floor of one segment through one setup in one hour. Rows of one
// segment that have a Gain are referred to that one and compare, across hours and setups;
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
	// At the antenna's terminals, cable loss and amplifier as the plan tells them (where
	// it does not, at the receiver's input), own noise subtracted; upper bounds, nothing subtracted, where
	// it is not known, or most readings are under 3 dB of margin.
	DBmHz    *Quantiles `json:"floor_dbm_hz"`
	DBmBound *bool      `json:"floor_dbm_bound"`    // they are upper bounds; nil without levels
	DBmSigma *survey.DB `json:"floor_dbm_sigma_db"` // standard uncertainty of its median, all of the budget together
	// DBmBudget is what makes it: of the reading of the row whose level is known worst.
	DBmBudget *level.Budget `json:"floor_dbm_budget"`
	Fa        *Quantiles    `json:"fa_db"`
	Margin    *survey.DB    `json:"receiver_margin_db"` // median over the readings
	// MarginOver is what the noise was measured by that the margin is over: "calibration", "terminator"
	// (in turns with the antennas) or "element replaced" (the amplifier's and the receiver's).
	MarginOver *string `json:"margin_over"`
	Limited    int     `json:"receiver_limited"` // readings of which the floor is an upper bound
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
