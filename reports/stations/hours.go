package stations

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

const (
	// byChance is how likely a line that has nothing to do with a source may share its hours. Chosen: it
	// takes two switchings in 16 rounds, or three in 11; one alone says nothing, since broadcasters
	// and people keep full hours. TestHoursOfASupply fails when either moves.
	byChance, fewestSwitchings = 0.01, 2
	// gone is under what share of its median power while the source is on a line is off, 6 dB. TestHoursOfASupply
	// fails when it moves.
	gone = 0.25
)

// keepsHours tells whether a line comes and goes with one of the sources: it was there in each round
// in which the source was on and in none in which it was off. A line that comes and goes as often, at
// times of its own, does the same by chance in one of C(n − 1, k) cases, n being the rounds and k
// the switchings.
func (f *Finder) keepsHours(line int, rounds []int) bool {
	if len(f.hours) == 0 {
		return false
	}
	powers := f.powers(line, rounds)
	return slices.ContainsFunc(f.hours, func(on map[input.RoundKey]bool) bool {
		var states []bool
		var known, with []float64
		switchings := 0
		for i, round := range rounds {
			state, ok := on[f.m.Rounds[round]]
			if !ok || math.IsNaN(powers[i]) {
				continue
			}
			if n := len(states); n > 0 && state != states[n-1] {
				switchings++
			}
			states, known = append(states, state), append(known, powers[i])
			if state {
				with = append(with, powers[i])
			}
		}
		if switchings < fewestSwitchings || combin.GeneralizedBinomial(float64(len(states)-1), float64(switchings)) < 1/byChance {
			return false
		}
		least := gone * stats.Median(with)
		for i, state := range states {
			if state != (known[i] > least) {
				return false
			}
		}
		return true
	})
}

// powers gives the power of a line by round through the setup that hears it most often: 0 where it was
// neither detected nor measured by force, NaN where the setup was not in place, or at a gain that does
// not compare.
func (f *Finder) powers(line int, rounds []int) []float64 {
	cells, first := f.m.Cells[f.hearsBest(line, rounds)], (*matrix.Cell)(nil)
	powers := make([]float64, len(rounds))
	for i, n := range rounds {
		c := cells[n]
		powers[i] = math.NaN()
		if c == nil {
			continue
		}
		if first == nil {
			first = c
		}
		lower, ok := input.Refer(c.Gain, first.Gain)
		switch power := c.Snr[line] * c.Floor * stats.FromDecibel(-float64(lower)); {
		case !ok:
		case math.IsNaN(power):
			powers[i] = 0
		default:
			powers[i] = power
		}
	}
	return powers
}

// hearsBest gives the setup that hears a line in the most rounds.
func (f *Finder) hearsBest(line int, rounds []int) (best int) {
	most := -1
	for k, cells := range f.m.Cells {
		times := 0
		for _, n := range rounds {
			if cells[n].Heard(line) {
				times++
			}
		}
		if times > most {
			most, best = times, k
		}
	}
	return best
}
