// Package pair compares two setups by the carriers that both measured. It gives one figure a
// round; their mean is the advantage of the first over the second.
//
// A cell is one carrier in one round: its level through each of the two. A strong level has a
// value in dB. A weak one has none, since a power under the noise may be measured negative: it has
// a likelihood. All cells are put together by the model
//
//	first − second      = difference of the carrier + shift of the round + scatter
//	mean of both levels = level of the carrier + lift of the round + fading
//
// in which carriers differ as an antenna's pattern makes them, and rounds as floors do. None of
// it is known beforehand. By the model a weak cell gets the difference that it lets expect, and a
// weight that says how much of that was measured. A carrier under the noise of the poorer setup
// is so held where the others and its own bound allow, neither left out, which flatters the
// poorer, nor put at its bound. A cell that strays, as when a station leaves the air between two
// visits, loses weight; the shift of the round is taken out before, so that a device which raises
// the floor through one setup does not make strays of a whole round.
//
// What the figures of the rounds say of the interval is left to others. The estimators, and how
// well they hold: STATISTICS.md 3.
package pair

import (
	"math"

	"nightfloor/reports/stats"
)

// A Level is what was measured of a carrier through one setup.
type Level struct {
	U    float64 // SNR over Unit; may be negative
	Unit float64 // standard error that the SNR would have with no carrier there, dB (10 log of Hz)
}

func (l Level) finite() bool { return stats.Finite(l.U) && stats.Finite(l.Unit) }

// A Cell is one carrier in one round through both setups.
type Cell struct {
	First, Second Level
	Measured      bool // through both; a level that is not finite counts as not measured
}

// A Result is how the first setup stands against the second.
type Result struct {
	Advantage float64   // dB, mean over carriers; NaN where no carrier is heard through both
	ByRound   []float64 // dB; NaN where nothing was measured through both. Their mean is Advantage
	Hidden    float64   // dB², variance of Advantage that the scatter of ByRound does not show
	Unheard   []Unheard
}

// An Unheard carrier lies under the noise through a setup even over all rounds together.
type Unheard struct {
	Carrier       int
	First, Second bool    // through which
	Behind        float64 // dB by which that one is behind at least; NaN where both are unheard
}

// Compare compares two setups. Cells come by round and carrier, each round with as many. The
// variance of a power of u units is 1 + alpha·u in units squared (METHODS.md 6.5).
func Compare(cells [][]Cell, alpha float64) Result {
	f := newFit(cells, alpha)
	r := Result{Advantage: math.NaN(), ByRound: make([]float64, len(cells))}
	for n := range r.ByRound {
		r.ByRound[n] = math.NaN()
	}
	var heard bool
	if r.Unheard, heard = f.unheard(); !heard {
		return r
	}
	f.start()
	for turn := 0; turn < mostTurns && f.turn() >= settled; turn++ {
	}
	f.result(&r)
	return r
}
