// Package reports turns stored sweeps into answers, and shows them.
//
// Statistics are pure functions from rows (package survey) to the results in
// this file; every rendering (table, JSON, CSV, page) takes the same results. A
// figure that does not apply is nil. Levels and densities are in dB against
// full scale, differences in dB, frequencies in Hz, times in UTC.
package reports

import (
	"math"
	"time"

	"nightfloor/survey"
)

// Schemas of the JSON documents.
const (
	SchemaRank         = "nightfloor/rank/1"
	SchemaFloor        = "nightfloor/floor/1"
	SchemaBearings     = "nightfloor/bearings/1"
	SchemaNoiseSources = "nightfloor/noise-sources/1"
	SchemaQuality      = "nightfloor/quality/1"
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
	// At the antenna's terminals, cable loss and amplifier as the plan tells them (where
	// it does not, at the receiver's input), the receiver's own noise subtracted where it is known;
	// an upper bound, nothing subtracted, where most readings are under 3 dB of margin.
	DBmHz    *Quantiles `json:"floor_dbm_hz"`
	DBmSigma *survey.DB `json:"floor_dbm_sigma_db"` // standard error of its median, calibration included
	Fa       *Quantiles `json:"fa_db"`
	Margin   *survey.DB `json:"receiver_margin_db"` // median over the readings
	Limited  int        `json:"receiver_limited"`   // readings of which the floor is an upper bound
}

// What a pattern is of.
const (
	OfFloor       = "floor"
	OfCarrier     = "carrier"
	OfNoiseSource = "noise-source"
)

// Bearings are the patterns of the antennas that were turned.
type Bearings struct {
	Schema    string       `json:"schema"`
	Simulated bool         `json:"simulated"`
	Reference survey.Setup `json:"reference"`
	Patterns  []Pattern    `json:"patterns"`
	Doubts    []string     `json:"doubts"` // in words; empty, never nil
}

// Pattern is how strong one thing is through one antenna at one placement by the
// bearing of its plane, degrees from true north. A loop cannot tell a direction from
// its opposite: null and peak stand in 0 ≤ deg < 180, and their opposites are meant too.
// NullLow to NullHigh, clockwise, is the 95 % interval: NullLow > NullHigh where it holds 0°.
// A depth is peak over null in power; Depth is nil where no power at all is left in the
// null, DepthHigh where none may be.
type Pattern struct {
	Antenna   string         `json:"antenna"`
	Placement string         `json:"placement"`
	Segment   string         `json:"segment"`
	Low       survey.Hz      `json:"low_hz"`
	High      survey.Hz      `json:"high_hz"`
	Of        string         `json:"of"`
	Frequency *survey.Hz     `json:"frequency_hz"` // of a carrier
	Spacing   *survey.Hz     `json:"spacing_hz"`   // of a noise source
	Envelope  *survey.Hz     `json:"envelope_hz"`  // of a noise source
	Reference survey.Setup   `json:"reference"`    // that its levels are against
	Null      *float64       `json:"null_deg"`     // nil: none is claimed
	NullLow   *float64       `json:"null_low_deg"`
	NullHigh  *float64       `json:"null_high_deg"`
	Peak      *float64       `json:"peak_deg"`
	Depth     *survey.DB     `json:"depth_db"`
	DepthLow  *survey.DB     `json:"depth_low_db"`
	DepthHigh *survey.DB     `json:"depth_high_db"`
	NoNull    *string        `json:"no_null"` // why none is claimed
	Rounds    int            `json:"rounds"`
	Curve     *Curve         `json:"curve"`
	Points    []PatternPoint `json:"points"`
	Doubts    []string       `json:"doubts"` // in words; empty, never nil
}

// Curve is P(θ) = A0 + A1 cos 2θ + A2 sin 2θ, in power against the reference's.
type Curve struct {
	A0 float64 `json:"a0"`
	A1 float64 `json:"a1"`
	A2 float64 `json:"a2"`
}

// At gives the power at a bearing in degrees; it may be negative next to a perfect null.
func (c Curve) At(deg float64) float64 {
	sin, cos := math.Sincos(2 * deg * math.Pi / 180)
	return c.A0 + c.A1*cos + c.A2*sin
}

// PatternPoint is the level at one bearing against the pattern's reference: the mean in
// linear power, nil where that is not over nothing. The bearing is the mean of those
// reached, where something measured them.
type PatternPoint struct {
	Bearing float64    `json:"bearing_deg"`
	Level   *survey.DB `json:"level_db"`
	Low     *survey.DB `json:"low_db"`
	High    *survey.DB `json:"high_db"`
	// OwnLow and OwnHigh bound the level against the antenna's other bearings: what the
	// reference's own scatter moves alike is left out.
	OwnLow  *survey.DB `json:"own_low_db"`
	OwnHigh *survey.DB `json:"own_high_db"`
	Visits  int        `json:"visits"`
}

// NoiseSources are the devices behind findings, the surest first.
type NoiseSources struct {
	Schema    string        `json:"schema"`
	Simulated bool          `json:"simulated"`
	Sources   []NoiseSource `json:"sources"`
	Rises     []Rise        `json:"rises"`     // of the floor, in order of time
	OwnLines  []OwnLine     `json:"own_lines"` // the receiver's
	Doubts    []string      `json:"doubts"`    // in words; empty, never nil
}

// NoiseSource is a device behind findings that share a spacing, an envelope or hours.
// Figures that do not apply to its kind are nil.
type NoiseSource struct {
	ID       int        `json:"id"` // counts from 1, in order of confidence
	Kind     string     `json:"kind"`
	Spacing  *survey.Hz `json:"spacing_hz"`  // once warm
	Envelope *survey.Hz `json:"envelope_hz"` // of a comb: that of the mains modulation that belongs to it
	Mains    *survey.Hz `json:"mains_hz"`
	Low      *survey.Hz `json:"low_hz"` // the stretch in which it was seen
	High     *survey.Hz `json:"high_hz"`
	Lines    *int       `json:"lines"`   // the most multiples in view at one moment
	Rate     *survey.Hz `json:"rate_hz"` // of impulses; nil where fewer than 5 were counted
	Depth    *float64   `json:"depth"`
	Shape    *string    `json:"shape"`
	First    time.Time  `json:"first"`
	Last     time.Time  `json:"last"`
	// ShareOfRounds is of those in which something listened that can hear it; one in which
	// it was heard to be off too counts by the share of its readings.
	ShareOfRounds float64         `json:"share_of_rounds"`
	Hours         []NoiseHours    `json:"hours"`
	Drift         *float64        `json:"drift_hz_per_hour"` // of the spacing, once warm
	Likely        string          `json:"likely"`            // in words; LikelyNotKnown where nothing fits
	Evidence      []string        `json:"evidence"`
	Against       []string        `json:"against"`
	Confidence    float64         `json:"confidence"`
	Detections    int             `json:"detections"` // moments at which it stood out by itself
	Strength      []NoiseStrength `json:"strength"`
	counted       string          // of impulses too few for a rate: how many, in what time
}

// NoiseHours is a stretch of time in which a source was on: from the first moment at
// which it was detected to the last. It was switched within a round before and after.
type NoiseHours struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// NoiseStrength is how strong a source is through one setup in one segment while it is
// on. Level is in dB over the floor, the median of those rounds: of a comb, a line's mean power in one resolution; of
// mains modulation, the amplitude with which the density swings; else as in the finding.
// It is nil where it is under twice its uncertainty: then High is a bound and Low nil.
// Low and High bound the 95 % interval, nil under 6 rounds.
type NoiseStrength struct {
	survey.Setup
	Segment string     `json:"segment"`
	From    survey.Hz  `json:"low_hz"` // edges of the segment
	To      survey.Hz  `json:"high_hz"`
	Level   *survey.DB `json:"level_db"`
	Low     *survey.DB `json:"low_db"`
	High    *survey.DB `json:"high_db"`
	Rounds  int        `json:"rounds"`
}

// What a rise is.
const (
	RiseStep      = "step"      // one device switching: the floor steps in most segments at once
	RiseBroadband = "broadband" // with a sign of interference, over most of the free spectrum
	RiseNight     = "night"     // in the dark with no such sign: the ionosphere, no interference
)

// Rise is a stretch of time in which the floor is 3 dB higher or more: of a step, than
// just before and after it; else than its own lower decile. Times are those of the first
// and the last reading that is raised, or, of a step, at which a source that was switched
// with it was heard; nil: it was not seen to begin, or to end.
type Rise struct {
	Kind     string     `json:"kind"`
	Segments []string   `json:"segments"`          // in which it is seen
	Measured int        `json:"segments_measured"` // in which it could have been
	From     *time.Time `json:"from"`
	To       *time.Time `json:"to"`
	survey.Setup
	// The rise through the setup that hears it best, mean over its segments, with the 95 %
	// interval. Strength has it for each setup and segment, its level being the rise.
	Level    *survey.DB      `json:"rise_db"`
	Low      *survey.DB      `json:"low_db"`
	High     *survey.DB      `json:"high_db"`
	Events   []QualityEvent  `json:"events"`  // noted within 2 minutes of its beginning or end
	Sources  []int           `json:"sources"` // ids of those that came on or went off within a round of it
	Evidence []string        `json:"evidence"`
	Against  []string        `json:"against"`
	Strength []NoiseStrength `json:"strength"`
}

// OwnLine is a line that is the receiver's own: at a frequency, or at an offset from
// wherever it is tuned.
type OwnLine struct {
	Frequency *survey.Hz `json:"frequency_hz"`
	Offset    *survey.Hz `json:"offset_hz"`
	Why       string     `json:"why"`
}

// Quality is what each survey holds, and what speaks against it.
type Quality struct {
	Schema       string               `json:"schema"`
	Surveys      []QualitySurvey      `json:"surveys"`
	Calibrations []QualityCalibration `json:"calibrations"` // that served their readings, oldest first
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
	Events    []QualityEvent `json:"events"` // in order of time
	Visits    *QualityVisits `json:"visits"` // nil: not kept
	Ending    *string        `json:"ending"`
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
	Bearings  Bearings
	Noise     NoiseSources
	Quality   Quality
	Pictures  []Waterfall
	Doubts    []string // over the whole survey
}
