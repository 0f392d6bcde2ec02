package stations

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

const (
	// byChance is how likely a line that has nothing to do with a source may share its hours. Chosen: it
	// takes two switchings in 16 rounds, or three in 10; one alone says nothing, since broadcasters
	// and people keep full hours. TestHoursOfASupply fails when either moves.
	byChance, fewestSwitchings = 0.01, 2
	// gone is under what share of its median power a line is off, 6 dB. TestHoursOfASupply fails when it moves.
	gone = 0.25
)

// keepsHours tells whether a line comes and goes with one of the sources: it was there in each round
// in which the source was on and in none in which it was off. A line that comes and goes as often, at
// times of its own, does the same by chance in one of C(n − 1, k) cases, n being the rounds and k
// the switchings.
func (f *Finder) keepsHours(line int, rounds []int) bool {
	there := f.presence(line, rounds)
	for _, on := range f.hours {
		n, switchings, last, same := 0, 0, false, true
		for i, round := range rounds {
			state, known := on[f.m.Rounds[round]]
			if !known || there[i] == nil {
				continue
			}
			if n > 0 && state != last {
				switchings++
			}
			n, last, same = n+1, state, same && state == *there[i]
		}
		if same && switchings >= fewestSwitchings && 1/combinations(n-1, switchings) <= byChance {
			return true
		}
	}
	return false
}

// presence tells by round whether the line was there, through the setup that heard it most often; nil
// where that was not in place, or at a gain that does not compare.
func (f *Finder) presence(line int, rounds []int) []*bool {
	cells, first := f.m.Cells[f.hearsBest(line, rounds)], (*matrix.Cell)(nil)
	powers, heard := make([]float64, len(rounds)), []float64{}
	for i, n := range rounds {
		c := cells[n]
		if powers[i] = math.Inf(1); c == nil {
			continue
		}
		if first == nil {
			first = c
		}
		if lower, ok := input.Refer(c.Gain, first.Gain); ok {
			powers[i] = c.Snr[line] * c.Floor * stats.FromDecibel(-float64(lower))
			if c.Heard(line) {
				heard = append(heard, powers[i])
			}
		}
	}
	there, usual := make([]*bool, len(rounds)), stats.Median(heard)
	for i, p := range powers {
		if !math.IsInf(p, 1) {
			there[i] = new(p > gone*usual) // what was neither detected nor measured by force, NaN, is not
		}
	}
	return there
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

// combinations gives in how many ways k of n can be chosen.
func combinations(n, k int) float64 {
	ways := 1.0
	for i := range k {
		ways *= float64(n-i) / float64(i+1)
	}
	return ways
}
