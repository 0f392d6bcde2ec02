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

// RankSegment ranks the setups in one segment over one period.
type RankSegment struct {
	Segment string      `json:"segment"`
	Low     survey.Hz   `json:"low_hz"`
	High    survey.Hz   `json:"high_hz"`
	Period  string      `json:"period"` // all, day, dusk, night, dawn
	Setups  []RankSetup `json:"setups"`
	// Controls are what comes without an antenna, over the whole time; empty for a
	// period of the day and where there is no control setup.
	Controls []Control     `json:"controls"`
	Doubts   []doubt.Doubt `json:"doubts"` // empty, never nil
}

// SameSegment tells whether two rankings are of one segment, over different periods.
func (s *RankSegment) SameSegment(t *RankSegment) bool {
	return s.Segment == t.Segment && s.Low == t.Low && s.High == t.High
}

// MostRounds gives in how many rounds the most frequent setup took part.
func (s *RankSegment) MostRounds() (n int) {
	for _, x := range s.Setups {
		n = max(n, x.Rounds)
	}
	return n
}

// Best gives the setups that may be the best, in order of rank. It is told only where
// any setup but the reference, whose interval is 0 to 0, has an interval.
func (s *RankSegment) Best() (setups []survey.Setup, told bool) {
	for _, x := range s.Setups {
		if x.Rank > 0 && x.MayBeBest {
			setups = append(setups, x.Setup)
		}
		told = told || x.Rank > 0 && x.Low != nil && *x.Low != *x.High
	}
	return setups, told
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
	Against  survey.Setup `json:"against"`
	Floor    *survey.DB   `json:"floor_db"`
	Carriers *survey.DB   `json:"carriers_db"`    // the median over carriers
	Bound    bool         `json:"carriers_bound"` // no more than that: they are under twice their uncertainty
	Rounds   int          `json:"rounds"`
}
