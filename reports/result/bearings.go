package result

import (
	"math"

	"nightfloor/reports/doubt"
	"nightfloor/survey"
)

// What a pattern is of.
const (
	OfFloor       = "floor"
	OfCarrier     = "carrier"
	OfNoiseSource = "noise-source"
)

// Bearings are the patterns of the antennas that were turned.
type Bearings struct {
	Schema    string        `json:"schema"`
	Simulated bool          `json:"simulated"`
	Reference survey.Setup  `json:"reference"`
	Patterns  []Pattern     `json:"patterns"`
	Doubts    []doubt.Doubt `json:"doubts"` // empty, never nil
}

// Pattern is how strong one thing is through one antenna at one placement by the
// bearing of its plane, degrees from true north. A loop cannot tell a direction from
// its opposite: null and peak stand in 0 ≤ deg < 180, and their opposites are meant too.
// NullLow to NullHigh, clockwise, is the 95 % interval: NullLow > NullHigh where it holds 0°.
// A depth is peak over null in power; Depth is nil where no power at all is left in the
// null, or no more than comes through a control, DepthHigh where none may be.
type Pattern struct {
	Antenna   string         `json:"antenna"`
	State     survey.State   `json:"-"` // of the antenna
	Placement string         `json:"placement"`
	Segment   string         `json:"segment"`
	Low       survey.Hz      `json:"low_hz"`
	High      survey.Hz      `json:"high_hz"`
	Of        string         `json:"of"`
	Frequency *survey.Hz     `json:"frequency_hz"` // of a carrier
	Spacing   *survey.Hz     `json:"spacing_hz"`   // of a noise source
	Envelope  *survey.Hz     `json:"envelope_hz"`  // of a noise source
	Source    *int           `json:"source"`       // of a noise source: its id in the report of them
	Reference survey.Setup   `json:"reference"`    // that its levels are against
	Null      *float64       `json:"null_deg"`     // nil: none is claimed
	NullLow   *float64       `json:"null_low_deg"`
	NullHigh  *float64       `json:"null_high_deg"`
	Peak      *float64       `json:"peak_deg"`
	Depth     *survey.DB     `json:"depth_db"`
	DepthLow  *survey.DB     `json:"depth_low_db"`
	DepthHigh *survey.DB     `json:"depth_high_db"`
	Isolation *Isolation     `json:"isolation"`  // of the peak from what comes through controls; nil without one, or where no pattern is told
	NoNull    *doubt.Doubt   `json:"no_null"`    // why none is claimed
	Fall      *Fall          `json:"fall"`       // by turning to the null; nil where none is claimed
	FloorFall *Fall          `json:"floor_fall"` // of the segment's floor by the same turn, while the source is on; of a noise source
	Rounds    int            `json:"rounds"`
	Curve     *Curve         `json:"curve"`
	Points    []PatternPoint `json:"points"`
	Doubts    []doubt.Doubt  `json:"doubts"` // empty, never nil
}

// Fall is by how much something falls when an antenna is turned to a bearing: the mean over all
// bearings against what is heard there, with 95 % interval. Of a floor it may be negative: it rises.
type Fall struct {
	DB   *survey.DB `json:"fall_db"` // nil: nothing is left to measure
	Low  *survey.DB `json:"low_db"`
	High *survey.DB `json:"high_db"` // nil: it has no upper end
}

// Unmeasured tells whether there was too little to look for a null in, so that the pattern says
// nothing about one.
func (p *Pattern) Unmeasured() bool {
	if p.NoNull == nil {
		return false
	}
	switch p.NoNull.Kind {
	case doubt.FewBearings, doubt.WideGap, doubt.FewRoundsForNull, doubt.NoPattern:
		return true
	}
	return false
}

// SameTurns tells whether two patterns are of one antenna at one placement in one segment.
func (p *Pattern) SameTurns(q *Pattern) bool {
	return p.Antenna == q.Antenna && p.Placement == q.Placement && p.Segment == q.Segment && p.Low == q.Low && p.High == q.High
}

// Turned gives what was turned: the setup without its bearing.
func (p *Pattern) Turned() survey.Setup {
	return survey.Setup{Antenna: p.Antenna, Placement: p.Placement, State: p.State}
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
// linear power, nil where that is not above 0. The bearing is the mean of those
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
