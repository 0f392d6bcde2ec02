package rank

import (
	"math"

	"nightfloor/reports/stats"
)

// A station goes off the air or comes on between two visits, and the round
// says nothing of the antennas. Differences are therefore taken for normal, but for
// a share of strays that scatter more widely.
const (
	// astray is how often a station goes off the air or comes on between the two
	// visits, so that the round says nothing of the antennas.
	astray = 0.03
	// strayWidth is how many times wider than fading differences are then.
	strayWidth = 4.0
)

// A stray is what a distance z from the mean, in spreads, makes of a difference.
type stray struct {
	density float64 // ln, without constants
	weight  float64 // w in the mean: far out it is small
	slope   float64 // of the score w·z over z: what the mean owes to its place
}

// A strayTable holds them in steps of strayStep.
type strayTable []stray

const strayStep = 1.0 / 32 // spreads; straight lines between are good to 1e-4

var strays = newStrayTable()

func newStrayTable() strayTable {
	t := make(strayTable, 40/strayStep)
	for i := range t {
		z := float64(i) * strayStep
		in := (1 - astray) * math.Exp(-z*z/2)
		out := astray / strayWidth * math.Exp(-z*z/(2*strayWidth*strayWidth))
		const wide = 1 / (strayWidth * strayWidth)
		weight := (in + out*wide) / (in + out)
		// With p = in/(in+out), p' = −z·p(1−p)(1−wide) and w = wide + p(1−wide).
		p := in / (in + out)
		t[i] = stray{math.Log(in + out), weight, weight - z*z*p*(1-p)*(1-wide)*(1-wide)}
	}
	return t
}

// at gives what a distance of z spreads makes.
func (t strayTable) at(z float64) stray {
	i, x := stats.GridPoint(math.Abs(z)/strayStep, len(t))
	a, b := &t[i], &t[i+1]
	return stray{a.density + x*(b.density-a.density), a.weight + x*(b.weight-a.weight), a.slope + x*(b.slope-a.slope)}
}
