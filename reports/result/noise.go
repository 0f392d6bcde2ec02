package result

import (
	"fmt"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// NoiseSources are the devices behind findings, the surest first.
type NoiseSources struct {
	Schema    string        `json:"schema"`
	Simulated bool          `json:"simulated"`
	Sources   []NoiseSource `json:"sources"`
	Rises     []Rise        `json:"rises"`     // of the floor, in order of time
	OwnLines  []OwnLine     `json:"own_lines"` // the receiver's
	Doubts    []doubt.Doubt `json:"doubts"`    // empty, never nil
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
	Lines    *int       `json:"lines"`       // the most multiples in view at one moment
	Rate     *survey.Hz `json:"rate_hz"`     // of impulses; nil where fewer than 5 were counted
	RateLow  *survey.Hz `json:"rate_low_hz"` // 95 % interval of the rate of impulses that come at random; also where few were counted
	RateHigh *survey.Hz `json:"rate_high_hz"`
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
	// Pulses are those counted while something listened for so long; of impulses alone.
	Pulses   int           `json:"-"`
	Listened time.Duration `json:"-"`
}

// String names the source by what was found: 65.0 kHz comb, mains-modulated.
func (s *NoiseSource) String() string {
	switch s.Kind {
	case survey.FindingComb:
		text := wording.Number(float64(*s.Spacing)/1e3, 1) + " kHz comb"
		if s.Envelope != nil {
			text += ", mains-modulated"
		}
		return text
	case survey.FindingMains:
		return fmt.Sprintf("noise modulated at %s Hz, twice the mains frequency", wording.Number(2*float64(*s.Mains), 0))
	case survey.FindingImpulses:
		if s.Rate == nil {
			return wording.Pulses(s.Pulses, s.Listened)
		}
		return "impulses, " + wording.Rate(float64(*s.Rate))
	case survey.FindingHump:
		return "hump of the floor at " + wording.Edges(*s.Low, *s.High)
	case survey.FindingNotch:
		return "raised floor with notches at amateur bands"
	}
	return s.Kind
}

// LooksLike says what the source is taken for, or that it is not known.
func (s *NoiseSource) LooksLike() string {
	switch s.Likely {
	case LikelyNotKnown:
		return "not known what it is"
	case LikelyOwn, LikelyArcing, LikelyNetwork:
		return "looks like " + s.Likely
	case LikelyFence:
		return "looks like an " + s.Likely
	}
	return "looks like a " + s.Likely
}

// Families of devices, as NoiseSource.Likely names them.
const (
	LikelyNotKnown = "not known"
	LikelyOwn      = "the receiver's own"
	LikelySupply   = "switching supply"
	LikelyLamp     = "switching supply, perhaps an LED lamp driver"
	LikelySolar    = "switching supply, perhaps a solar inverter"
	LikelyClock    = "clocked device such as a computer, a display or a network"
	LikelyDimmer   = "triac dimmer"
	LikelyArcing   = "arcing, perhaps on a power line"
	LikelyFence    = "electric fence"
	LikelyNetwork  = "in-home data over mains"
)

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
	Segment     string     `json:"segment"`
	SegmentLow  survey.Hz  `json:"low_hz"`
	SegmentHigh survey.Hz  `json:"high_hz"`
	Level       *survey.DB `json:"level_db"`
	Low         *survey.DB `json:"low_db"`
	High        *survey.DB `json:"high_db"`
	Rounds      int        `json:"rounds"`
	// Isolation is that of this setup from what comes through a control of a comb or of noise modulated by the mains;
	// nil: none was measured at gains that compare.
	Isolation *Isolation `json:"isolation"`
}

// OwnLine is a line that is the receiver's own: at a frequency, or at an offset from
// wherever it is tuned.
type OwnLine struct {
	Frequency *survey.Hz `json:"frequency_hz"`
	Offset    *survey.Hz `json:"offset_hz"`
	Why       string     `json:"why"`
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
