package result

import "nightfloor/survey"

// Halves is what a change of the wiring at half time did in one segment. The halves are of different hours, so
// that what counts is how setups changed against the reference.
type Halves struct {
	Changed      string        `json:"changed"` // feed_lines, idle, chokes: the key in the plan
	First        string        `json:"first"`   // state of the first half
	Second       string        `json:"second"`
	RoundsFirst  int           `json:"rounds_first"`
	RoundsSecond int           `json:"rounds_second"`
	Setups       []HalvesSetup `json:"setups"`
}

// HalvesSetup is what the change did to one setup; nil: not known, or the setup is the reference. Changes are those
// from the first half to the second.
type HalvesSetup struct {
	survey.Setup
	First     *Estimate `json:"advantage_first"`
	Second    *Estimate `json:"advantage_second"`
	Advantage *Estimate `json:"advantage_change"`
	Signal    *Estimate `json:"signal_change"`
	Floor     *Estimate `json:"floor_change"`     // against the reference's
	OwnFloor  *Estimate `json:"own_floor_change"` // by itself: that of the hours is in it
	// Antennas is what of the advantage is the antennas', and Lines what was the feed lines' and ports' of the
	// first half: half the sum and half the difference. nil unless feed lines of two antennas were crossed.
	Antennas *Estimate `json:"antennas"`
	Lines    *Estimate `json:"lines"`
}

// Estimate is a mean with its 95 % interval.
type Estimate struct {
	DB   *survey.DB `json:"mean_db"`
	Low  *survey.DB `json:"low_db"`
	High *survey.DB `json:"high_db"`
}
