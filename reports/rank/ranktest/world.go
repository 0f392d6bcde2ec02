// Package ranktest makes nights of rows of which the truth is known, and tells how well any
// estimator could know it: for simulations of the ranking. It is used by tests only.
//
// A World says what nights are like. A Night is one of them: its rows, the hours of a device that
// was on and off, the true advantage of each setup over the first, and the half width of the interval
// of someone who knows all variances and states.
package ranktest

import "time"

// A World says what nights are like. The first setup is the reference.
type World struct {
	Rounds, Setups, Carriers int

	Shared, Own float64 // dB: fading of a carrier through all setups alike, through each by itself
	Lag         float64 // correlation of fading from round to round
	Fades       int     // > 0: Own is the mean power of so many Rayleigh fades, which have no memory
	Gains       float64 // dB: how setups scatter in gain and in floor, each
	Pattern     float64 // dB: how carriers scatter through a setup
	Low, High   float64 // dB over the standard error of the quiet place: levels of carriers
	Looks       int     // independent powers averaged in a measured one
	OffAir      float64 // share of carriers that leave the air for an eighth of the night on average

	Drift, DriftLag float64 // dB: of a setup's floor, and its correlation from round to round
	Trend           float64 // dB: of all floors alike, correlation 0.95
	FloorError      float64 // dB: of a floor measured once

	Weak     float64 // share of carriers that lie −10 to 3 dB over the error through DeafSetup
	Deaf     float64 // dB by which that setup is behind
	DeafAt   int     // which it is
	Device   Device
	GapAfter int  // > 0: ten rounds are missing after so many
	Uneven   bool // visits in 60 % of the rounds, 90 % of the reference's; the fourth half the night
}

// A Device raises floors while it is on; it comes and goes in the midst of rounds.
type Device struct {
	Raises []float64 // dB by setup; nil: there is none
	Share  float64   // of the time that it is on
	Lasts  float64   // rounds, on average
	Known  bool      // its hours are
}

// Plain is the world that the others vary: an evening with three setups beside the reference.
func Plain() World {
	return World{Rounds: 24, Setups: 4, Carriers: 12, Shared: 3, Own: 3, Lag: 0.3, Gains: 2, Pattern: 2, Low: 22, High: 45, Looks: 32,
		OffAir: 0.25, Drift: 0.5, DriftLag: 0.6, Trend: 2, FloorError: 0.1, Deaf: 20}
}

// Like gives the plain world with something changed.
func Like(change func(*World)) World {
	w := Plain()
	change(&w)
	return w
}

// raises tells by how many dB the device raises the floor through a setup.
func (d Device) raises(k int) float64 {
	if d.Raises == nil {
		return 0
	}
	return d.Raises[k]
}

// Start is when nights begin, and Round how long a round lasts.
var Start = time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC)

const Round = 10 * time.Minute

// times gives the beginning of each round, in rounds.
func (w World) times() []float64 {
	t := make([]float64, w.Rounds)
	for n := range t {
		t[n] = float64(n)
		if w.GapAfter > 0 && n >= w.GapAfter {
			t[n] += 10
		}
	}
	return t
}
