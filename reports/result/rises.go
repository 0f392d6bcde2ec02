package result

import (
	"time"

	"nightfloor/survey"
)

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
