package result

import (
	"encoding/json"

	"nightfloor/reports/doubt"
	"nightfloor/survey"
)

// Periods of the day, in the order in which they are listed.
const (
	PeriodAll   = "all"
	PeriodDay   = "day"
	PeriodDusk  = "dusk"
	PeriodNight = "night"
	PeriodDawn  = "dawn"
)

// Rank is the answer to "which setup hears best": setups by SNR against a
// reference, for each segment and period.
type Rank struct {
	Schema    string        `json:"schema"`
	Simulated bool          `json:"simulated"`
	Reference survey.Setup  `json:"reference"`
	Segments  []RankSegment `json:"segments"`
}

// What a segment is ranked by.
const (
	OfCarriers      = "carriers"      // stations' carriers, found by the program
	OfListed        = "listed"        // beacons and time signals at frequencies that the plan lists
	OfTransmissions = "transmissions" // what is on the air of an amateur band, by slots of 2.4 kHz
)

// RankSegment ranks the setups in one segment over one period, or over the rounds of that
// period in which the noise sources were in one state.
type RankSegment struct {
	Segment string    `json:"segment"`
	Low     survey.Hz `json:"low_hz"`
	High    survey.Hz `json:"high_hz"`
	Period  string    `json:"period"` // all, day, dusk, night, dawn
	// State names the state of the noise sources, "source 2 on"; nil: all states of the period.
	State *string `json:"state"`
	Of    string  `json:"of"` // carriers, listed, transmissions
	// Listed are the frequencies that the plan lists; empty where it lists none.
	Listed  []ListedLine `json:"listed"`
	Verdict *Verdict     `json:"verdict"` // nil where fewer than two candidates were measured
	Setups  []RankSetup  `json:"setups"`
	// Halves are what changes of the wiring at half time did, over the whole time; nil for a period of the
	// day or a state, and where nothing changed.
	Halves []Halves `json:"halves"`
	// Controls are what comes without an antenna, over the whole time; empty for a
	// period of the day and where there is no control setup.
	Controls []Control `json:"controls"`
	// Coupling tells of antennas that were measured with others in place and with these removed, over the whole
	// time; nil for a part of it, and where there is no such pair.
	Coupling []Coupling    `json:"coupling"`
	Doubts   []doubt.Doubt `json:"doubts"` // empty, never nil
}

// A ListedLine is a frequency that a plan lists. It counts, for all setups, where one of them hears it often enough.
type ListedLine struct {
	Frequency survey.Hz `json:"frequency_hz"`
	Heard     int       `json:"rounds_heard"` // through the setup that hears it most often
	Rounds    int       `json:"rounds"`       // of the period
	Counts    bool      `json:"counts"`
}

// SameSegment tells whether two rankings are of one segment, over different periods or states.
func (s *RankSegment) SameSegment(t *RankSegment) bool {
	return s.Segment == t.Segment && s.Low == t.Low && s.High == t.High
}

// Headline tells whether this is the ranking over all rounds of its segment.
func (s *RankSegment) Headline() bool { return s.Period == PeriodAll && s.State == nil }

// MostRounds gives in how many rounds the most frequent setup took part.
func (s *RankSegment) MostRounds() (n int) {
	for _, x := range s.Setups {
		n = max(n, x.Rounds)
	}
	return n
}

// Kinds of verdicts.
const (
	VerdictBest        = "best"         // one setup hears best
	VerdictTie         = "tie"          // several may be the best
	VerdictFewRounds   = "few-rounds"   // too few rounds, or floors that drift too slowly for so few
	VerdictFewCarriers = "few-carriers" // under three carriers: figures, and no verdict
	VerdictNoStations  = "no-stations"  // nothing was heard to compare setups by
)

// A Verdict says which setup hears best, or why that cannot be told.
type Verdict struct {
	Kind string `json:"kind"`
	// Setups are those that may be the best, in order of rank; empty with no stations.
	Setups []survey.Setup `json:"-"`
	// Lead is by how much the first setup is ahead of the runner-up, with the 95 % interval of
	// that difference; nil where it is not known.
	Lead *survey.DB `json:"lead_db"`
	Low  *survey.DB `json:"low_db"`
	High *survey.DB `json:"high_db"`
	// MoreRounds is about how many further rounds would decide, if they are like those measured;
	// nil where nothing is to be decided, or no number of them that a survey can hold would.
	MoreRounds *int `json:"more_rounds"`
}

// MarshalJSON writes setups as they are written on the command line, whip@loft.
func (v Verdict) MarshalJSON() ([]byte, error) {
	type plain Verdict
	out := struct {
		Kind   string   `json:"kind"`
		Setups []string `json:"setups"`
		plain
	}{Kind: v.Kind, Setups: []string{}, plain: plain(v)}
	for _, s := range v.Setups {
		out.Setups = append(out.Setups, s.String())
	}
	return json.Marshal(out)
}

// RankSetup is one setup's place. Advantages are mean differences in dB from
// the reference; Low and High bound the 95 % interval. BestShare is the share of
// resamples in which the setup came first.
type RankSetup struct {
	survey.Setup
	// Apart tells of a setup that is no candidate: a control, or an antenna with others removed. It has no rank.
	Apart        bool       `json:"apart"`
	Rank         int        `json:"rank"`
	SNRAdvantage *survey.DB `json:"snr_advantage_db"`
	Low          *survey.DB `json:"low_db"`
	High         *survey.DB `json:"high_db"`
	SignalChange *survey.DB `json:"signal_change_db"`
	FloorChange  *survey.DB `json:"floor_change_db"`
	BestShare    *float64   `json:"best_share"`
	MayBeBest    bool       `json:"may_be_best"`
	Rounds       int        `json:"rounds"`
	Carriers     int        `json:"carriers"` // that it was compared by; slots of 2.4 kHz where Of is OfTransmissions
	Nights       *Nights    `json:"nights"`   // nil under three nights
	Flags        []string   `json:"flags"`    // empty, never nil
}

// Nights is the 95 % interval of the advantage with the night as the unit: what other nights
// like these would show.
type Nights struct {
	Count int        `json:"count"`
	Low   *survey.DB `json:"low_db"`
	High  *survey.DB `json:"high_db"`
}

// MarshalJSON writes a setup that could not be ranked (Rank 0) with rank null.
func (s RankSetup) MarshalJSON() ([]byte, error) {
	type plain RankSetup
	out := struct {
		plain
		Rank *int `json:"rank"`
	}{plain: plain(s)}
	if s.Rank > 0 {
		out.Rank = &s.Rank
	}
	return json.Marshal(out)
}

// Control is what a control setup delivers against another one: by how much its noise
// and its stations stand under the other's, in dB, negative where they do. nil: not
// known, for want of common rounds or of gains that compare.
type Control struct {
	survey.Setup
	Against    survey.Setup `json:"against"`
	Element    bool         `json:"element_replaced"` // the control is a dummy in place of the other's element, else a terminator
	Floor      *survey.DB   `json:"floor_db"`         // nil also where the control was measured at another gain, and own noise is not known at both
	FloorBound bool         `json:"floor_bound"`      // no more than that: the control shows own noise in most readings
	Carriers   *survey.DB   `json:"carriers_db"`      // the median over carriers
	Bound      bool         `json:"carriers_bound"`   // no more than that: they are under twice their uncertainty
	// Isolation is what that means for a station's level; nil where Carriers are. Poor counts the carriers that are
	// heard through the control less than 25 dB down, PoorIsolation is the median of these; nil: there is none.
	Isolation     *Isolation `json:"isolation"`
	Poor          int        `json:"carriers_poor"`
	PoorIsolation *Isolation `json:"poor_isolation"`
	// Ingress is the noise that the feed line brings, that of the control less the receiver's own, against the setup's less its own noise;
	// nil where no terminator at the receiver's input shows that in turns, or the control is no terminator.
	Ingress      *survey.DB `json:"ingress_db"`
	IngressBound bool       `json:"ingress_bound"` // no more than that: it is not told from nothing
	Rounds       int        `json:"rounds"`
}

// Coupling is what other antennas do to one: the difference of its signals and of its floor between rounds with them
// in place and with them removed, with 95 % intervals, within rounds. nil: not known.
type Coupling struct {
	survey.Setup              // with them in place
	Without      survey.Setup `json:"without"` // with them removed
	Removed      []string     `json:"removed"`
	Signal       *survey.DB   `json:"signal_change_db"`
	SignalLow    *survey.DB   `json:"signal_low_db"`
	SignalHigh   *survey.DB   `json:"signal_high_db"`
	Floor        *survey.DB   `json:"floor_change_db"`
	FloorLow     *survey.DB   `json:"floor_low_db"`
	FloorHigh    *survey.DB   `json:"floor_high_db"`
	// Coupled tells whether one of them is over 1 dB and told from nothing; nil: the rounds do not tell.
	Coupled *bool `json:"coupled"`
	Rounds  int   `json:"rounds"`
}

// Isolation is by how much the same thing comes weaker through a control than through a setup, and by how much a
// level may err at the least and at the most since voltages add.
type Isolation struct {
	DB    *survey.DB `json:"isolation_db"`
	Bound bool       `json:"bound"`        // no less than that: nothing is heard through the control
	Poor  bool       `json:"poor"`         // it is heard through the control, less than 25 dB down
	Low   *survey.DB `json:"error_low_db"` // nil: without end
	High  *survey.DB `json:"error_high_db"`
}
