package source

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
)

// Whether modulated noise goes with a comb: STATISTICS.md 8.7; TestModulationAtASwitching (compareRounds,
// shiftSigmas), TestWeakModulationOfAnother (riseLeast), TestFewRoundsCompared (rankSigmas).
const (
	// To be compared, the modulation must be known in compareRounds rounds with a comb, and in as
	// many without it.
	compareRounds = 3
	// riseLeast is by how many dB its amplitude must be stronger with the comb.
	riseLeast = 1.8
	// rankSigmas is by how many standard errors a rank sum must be more than chance makes it.
	rankSigmas = 3.0
	// shiftSigmas is by how many standard errors the level must change at a switching.
	shiftSigmas = 3.0
)

// goesWith tells whether the modulation is stronger while comb i is on than while it is off.
// Only rounds with the same other combs on are compared: there is one rank sum for each setup
// segment and each state of the other combs, and all are taken together [vanElteren:1960].
//
// rise is by how much the modulation is stronger, in dB of amplitude. switchings is at how many
// switchings of the comb the modulation changed with it; 0 where it is not stronger, and where
// against is true. against says that the modulation does not go with the comb: it could be
// compared and is not stronger, or it changed at fewer than three of four switchings judged.
func goesWith(l *readlog.Log, levels [][]float64, combs []*Source, i int) (rise float64, switchings int, against bool) {
	c, others, all := combs[i], statesWithout(combs, i, len(l.Rounds)), switchingsOf(l, combs[i])
	beside := besideSwitching(l, all)
	var sum, variance, levelWith, levelWithout float64
	for _, level := range levels {
		with, without := strataOf(level, c, others, beside)
		for _, state := range slices.Sorted(maps.Keys(with)) {
			on, off := with[state], without[state]
			if len(off) < compareRounds || len(on) < compareRounds {
				continue
			}
			slices.Sort(on)
			slices.Sort(off)
			n, m := float64(len(on)), float64(len(off))
			weight := 1 / (n + m + 1)
			sum += weight * (pairsOver(on, off) - n*m/2)
			variance += weight * weight * n * m * (n + m + 1) / 12
			a, b := stats.Quantile(on, 0.5), stats.Quantile(off, 0.5)
			if unit := max(math.Abs(a), math.Abs(b)); unit > 0 { // each setup segment has levels of its own
				levelWith, levelWithout = levelWith+weight*n*m*a/unit, levelWithout+weight*n*m*max(0, b)/unit
			}
		}
	}
	rise = stats.Decibel(levelWith/levelWithout) / 2 // squares
	known := variance > 0
	stronger := known && sum > rankSigmas*math.Sqrt(variance) && rise > riseLeast
	agree, judged := countSwitchings(l, levels, c, others, all)
	if against = known && !stronger || 4*agree < 3*judged; against || !stronger {
		agree = 0
	}
	return rise, agree, against
}

// statesWithout tells by round which combs but one were on.
func statesWithout(combs []*Source, but, rounds int) []string {
	states := make([]string, rounds)
	state := make([]byte, len(combs))
	for n := range states {
		for k, c := range combs {
			if state[k] = 0; k != but && c.On[n] {
				state[k] = 1
			}
		}
		if n > 0 && states[n-1] == string(state) { // mostly
			states[n] = states[n-1]
		} else {
			states[n] = string(state)
		}
	}
	return states
}

// strataOf gives by the state of the other combs what was measured with a comb and without, near a
// switching of it.
func strataOf(level []float64, c *Source, others []string, beside []bool) (with, without map[string][]float64) {
	with, without = map[string][]float64{}, map[string][]float64{}
	for n, x := range level {
		switch state := others[n]; {
		case !beside[n] || math.IsNaN(x) || !c.Listened[n]:
		case !c.On[n]:
			without[state] = append(without[state], x)
		case c.Share[n] == 1:
			with[state] = append(with[state], x)
		}
	}
	return with, without
}

// pairsOver counts the pairs of a value of x and one of y in which that of x is greater, a tie
// as half a pair: the sum of the ranks of x among both, less that of x alone. Y is in rising order.
func pairsOver(x, y []float64) (sum float64) {
	for _, v := range x {
		under, _ := slices.BinarySearch(y, v)
		upTo, _ := slices.BinarySearch(y, math.Nextafter(v, math.Inf(1)))
		sum += float64(under+upTo) / 2
	}
	return sum
}

// A switching is a change of a comb from on to off, or back, between two rounds of a survey, at−1
// and at among those that listened.
type switching struct {
	listened []int
	at       int
}

func switchingsOf(l *readlog.Log, c *Source) (all []switching) {
	listened := map[int64][]int{}
	for n, round := range l.Rounds {
		if c.Listened[n] {
			listened[round.Key.Survey] = append(listened[round.Key.Survey], n)
		}
	}
	for _, own := range listened {
		for k := 1; k < len(own); k++ {
			if c.On[own[k-1]] != c.On[own[k]] {
				all = append(all, switching{own, k})
			}
		}
	}
	return all
}

// besideSwitching tells of each round whether a comb was switched within a few rounds of it.
// What modulates at hours of its own overlaps with the hours of any comb, but only by chance does it
// change when the comb is switched.
func besideSwitching(l *readlog.Log, all []switching) []bool {
	const few = 2 * compareRounds
	beside := make([]bool, len(l.Rounds))
	for _, s := range all {
		before, after := s.listened[s.at-1], s.listened[s.at]
		for n := max(0, before-few+1); n < min(len(beside), after+few); n++ {
			beside[n] = beside[n] || l.Rounds[n].Key.Survey == l.Rounds[after].Key.Survey
		}
	}
	return beside
}

// countSwitchings counts the switchings of a comb at which the modulation can be judged, and at how
// many of them it changes with the comb. What modulates for hours of its own may well come on
// within half an hour of one, but hardly at just that round, and not again at others.
func countSwitchings(l *readlog.Log, levels [][]float64, c *Source, others []string, all []switching) (agree, judged int) {
	level := meanLevel(levels, c)
	for _, s := range all {
		a, b := s.listened[s.at-1], s.listened[s.at]
		if l.Rounds[b].First.Sub(l.Rounds[a].First) > 2*l.Usual {
			continue
		}
		for _, state := range []string{others[a], others[b]} {
			if told, with := s.judge(level, c, others, state); told {
				judged++
				if with {
					agree++
				}
				break
			}
		}
	}
	return agree, judged
}

// meanLevel gives by round the mean of what was measured through all setup segments, each as a share
// of its upper quartile in rounds with a comb; NaN where nothing was.
func meanLevel(levels [][]float64, c *Source) []float64 {
	sum, count := make([]float64, len(c.On)), make([]float64, len(c.On))
	for _, level := range levels {
		var on []float64
		for n, x := range level {
			if c.On[n] && !math.IsNaN(x) {
				on = append(on, x)
			}
		}
		slices.Sort(on)
		usual := stats.Quantile(on, 0.75)
		for n, x := range level {
			if usual > 0 && !math.IsNaN(x) {
				sum[n], count[n] = sum[n]+x/usual, count[n]+1
			}
		}
	}
	for n := range sum {
		sum[n] /= count[n]
	}
	return sum
}

// judge judges the modulation at a switching by rounds in which the other combs are in one
// state: told is false where there are too few of them, or the level scatters too much. With
// tells that it is stronger on the comb's side, and changes at the switching, to a round in the
// midst of which the comb was switched.
func (s switching) judge(level []float64, c *Source, others []string, state string) (told, with bool) {
	const few = compareRounds + 1 // the more, the likelier others switch among them
	// side gives the levels from one of the rounds on, while the comb is as it was in it.
	side := func(at, step int) (some []float64) {
		for i := at; i >= 0 && i < len(s.listened) && step*(i-at) < few; i += step {
			n := s.listened[i]
			if c.On[n] != c.On[s.listened[at]] {
				break
			}
			if others[n] == state && (!c.On[n] || c.Share[n] == 1) && !math.IsNaN(level[n]) {
				some = append(some, level[n])
			}
		}
		return some
	}
	x, y := side(s.at-1, -1), side(s.at, 1)
	slices.Reverse(x)
	if len(x) < compareRounds || len(y) < compareRounds {
		return false, false
	}
	sigma := scatterOf(x, y) * stats.MedianError * math.Sqrt(1/float64(len(x))+1/float64(len(y)))
	at := splitOf(append(slices.Clone(x), y...))
	off, on := stats.Median(x), stats.Median(y)
	if c.On[s.listened[s.at-1]] {
		off, on = on, off
	}
	// Of the stronger side's square: half of riseLeast, since other noise may be modulated too.
	least := 1 - stats.FromDecibel(-riseLeast)
	sudden := at >= len(x)-1 && at <= len(x)+1
	with = sudden && on-off > shiftSigmas*sigma && on-off > least*on
	return with || shiftSigmas*sigma < least, with
}

// splitOf gives the place that parts a row best in two of different means: that at which the
// squares about them are least.
func splitOf(x []float64) (at int) {
	best := -1.0
	for k := 1; k < len(x); k++ {
		a, b := stat.Mean(x[:k], nil), stat.Mean(x[k:], nil)
		if between := float64(k*(len(x)-k)) * (a - b) * (a - b); between > best {
			best, at = between, k
		}
	}
	return at
}
