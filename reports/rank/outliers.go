package rank

import (
	"math"

	"nightfloor/reports/stats"
)

// Differences between two setups are taken for normal, but for a share of outliers: rounds in
// which a station went off the air or came on between the two visits, and which tell nothing of
// the antennas.
const (
	// offAirShare is the share of such rounds. Chosen (STATISTICS.md 3.3); TestWeightOfOutliers
	// fails when either of the two moves.
	offAirShare = 0.03
	// offAirSpread is how many times more widely than by fading differences scatter then.
	// Chosen (STATISTICS.md 3.3).
	offAirSpread = 4.0
)

// An outlierTerm is what a difference z spreads from the mean adds to the likelihood and to
// the robust mean.
type outlierTerm struct {
	density float64 // ln, without constants
	weight  float64 // w in the mean: small far out
	slope   float64 // derivative of the score w·z by z
}

// An outlierTable holds the terms by distance, in steps of outlierStep.
type outlierTable []outlierTerm

const outlierStep = 1.0 / 32 // spreads; straight lines between are good to 1e-4

var outliers = newOutlierTable()

func newOutlierTable() outlierTable {
	t := make(outlierTable, 40/outlierStep)
	for i := range t {
		z := float64(i) * outlierStep
		in := (1 - offAirShare) * math.Exp(-z*z/2)
		out := offAirShare / offAirSpread * math.Exp(-z*z/(2*offAirSpread*offAirSpread))
		const wide = 1 / (offAirSpread * offAirSpread)
		weight := (in + out*wide) / (in + out)
		// With p = in/(in+out), p' = −z·p(1−p)(1−wide) and w = wide + p(1−wide).
		p := in / (in + out)
		t[i] = outlierTerm{math.Log(in + out), weight, weight - z*z*p*(1-p)*(1-wide)*(1-wide)}
	}
	return t
}

// at gives the term of a difference z spreads from the mean.
func (t outlierTable) at(z float64) outlierTerm {
	i, x := stats.GridPoint(math.Abs(z)/outlierStep, len(t))
	a, b := &t[i], &t[i+1]
	return outlierTerm{a.density + x*(b.density-a.density), a.weight + x*(b.weight-a.weight), a.slope + x*(b.slope-a.slope)}
}
