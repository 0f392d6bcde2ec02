// Package halves tells what a change of the wiring at half time did: feed lines that were crossed, idle antennas
// that were ended in another way, chokes that were put on or taken off.
//
// Of finds the changes, and which rounds lie on either side of one. A figure of each round, such as the advantage of one
// setup over another in dB, is split by side with Split; a Split gives the mean of each side, their difference
// and half their sum with their distributions, all by Mean. Only states of the noise sources that were met on both
// sides count, each as much as it says of the difference, so that a source which was on through one half is not
// taken for the change. Rounds next to each other are alike, which series takes into account: with rounds taken
// for independent, as Welch's t does, half time would show differences in many nights without any
// (STATISTICS.md 4.12).
package halves

import (
	"math"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Change is a part of the wiring that was in two states in one survey, or in several.
type Change struct {
	Part   survey.WiringPart
	States [2]string // in the order of the first of these surveys
	Side   []int     // by round: in the first of the states, 0, or in the second, 1; −1: in neither, or its survey has only one of them
}

// Of gives the changes that surveys hold, for these rounds, which come in order of time.
func Of(in input.Input, rounds []input.RoundKey) (all []Change) {
	wirings := roundWirings(in)
	for _, part := range survey.WiringParts {
		met := map[int64][]string{} // states, by survey
		var surveys []int64
		for _, r := range rounds {
			state := part.Of(wirings[r])
			if state == "" || slices.Contains(met[r.Survey], state) {
				continue
			}
			if met[r.Survey] = append(met[r.Survey], state); len(met[r.Survey]) == 2 {
				surveys = append(surveys, r.Survey)
			}
		}
		for _, id := range surveys {
			states := [2]string(met[id])
			same := func(c Change) bool {
				return c.Part.Key == part.Key && (c.States == states || c.States == [2]string{states[1], states[0]})
			}
			at := slices.IndexFunc(all, same)
			if at < 0 {
				at, all = len(all), append(all, Change{Part: part, States: states, Side: slices.Repeat([]int{-1}, len(rounds))})
			}
			for i, r := range rounds {
				if r.Survey == id {
					all[at].Side[i] = slices.Index(all[at].States[:], part.Of(wirings[r]))
				}
			}
		}
	}
	return all
}

// roundWirings gives what was in place in each round, nothing where it changed within.
func roundWirings(in input.Input) map[input.RoundKey]survey.Wiring {
	wirings := map[input.RoundKey]survey.Wiring{}
	for _, v := range in.Visits {
		r := input.RoundKey{Survey: v.Survey, Round: v.Round}
		if v.Reached == (survey.Setup{}) {
			continue
		}
		if was, met := wirings[r]; met && was != v.Wiring {
			v.Wiring = survey.Wiring{}
		}
		wirings[r] = v.Wiring
	}
	return wirings
}

// Rounds counts those of a side.
func (c Change) Rounds(side int) (n int) {
	for _, s := range c.Side {
		if s == side {
			n++
		}
	}
	return n
}

// Strata gives the wirings that changes tell apart as strata from 0, by round, and how many there are; 1 without a change.
func Strata(changes []Change, rounds int) (of []int, count int) {
	of, count = make([]int, rounds), 1
	for _, c := range changes {
		for i, side := range c.Side {
			of[i] = 3*of[i] + side + 1
		}
		count *= 3
	}
	return of, count
}

// near is how many rounds on either side of a change tell by how much a floor jumped there: their medians, so that one round in
// which a device raised it does not count. Chosen. TestLevel.
const near = 3

// Level gives floors through a setup, dB by round, without the jumps that they make where the wiring changes, so that
// these are not taken for a device that was switched on or off. NaN is a floor that is not known.
func Level(changes []Change, rounds []input.RoundKey, floors []float64) []float64 {
	level := slices.Clone(floors)
	for _, c := range changes {
		known := map[input.RoundKey][2][]int{} // by survey, Round being 0: rounds before and after
		for i, side := range c.Side {
			if side < 0 || math.IsNaN(floors[i]) {
				continue
			}
			survey := input.RoundKey{Survey: rounds[i].Survey}
			of := known[survey]
			if later := len(of[0]) > 0 && side != c.Side[of[0][0]]; later {
				of[1] = append(of[1], i)
			} else {
				of[0] = append(of[0], i)
			}
			known[survey] = of
		}
		for _, of := range known {
			before, after := of[0], of[1]
			if len(after) == 0 {
				continue
			}
			jump := median(floors, after[:min(near, len(after))]) - median(floors, before[max(0, len(before)-near):])
			for _, i := range after {
				level[i] -= jump
			}
		}
	}
	return level
}

func median(of []float64, which []int) float64 {
	var some []float64
	for _, i := range which {
		some = append(some, of[i])
	}
	return stats.Median(some)
}

// A Split is figures by round, on both sides of a change.
type Split struct {
	// Alike tells whether some state of the noise sources was met on both sides. Else states do not count, and what the
	// sources did is in the difference.
	Alike bool

	fit    *series.Fit
	weight map[int]float64 // by state of the noise sources; they add up to 1
}

// Split splits figures whose strata are states of the noise sources. It gives nil where they lie on one side only.
func (c Change) Split(values series.Series) *Split {
	s := c.split(values)
	if s.Alike = s.fit != nil; s.Alike {
		return s
	}
	values.Stratum = slices.Clone(values.Stratum)
	for i, state := range values.Stratum {
		values.Stratum[i] = min(state, 0)
	}
	if s = c.split(values); s.fit == nil {
		return nil
	}
	return s
}

// split splits figures by state; without a fit where no state was met on both sides.
func (c Change) split(values series.Series) *Split {
	rounds := map[int]float64{} // by state and side
	own := values
	own.Stratum = make([]int, len(values.Stratum))
	for i, state := range values.Stratum {
		own.Stratum[i] = -1
		if state >= 0 && c.Side[i] >= 0 {
			own.Stratum[i] = 2*state + c.Side[i]
			if own.Counts(i) {
				rounds[own.Stratum[i]]++
			}
		}
	}
	s := &Split{weight: map[int]float64{}}
	sum := 0.0
	for stratum, n := range rounds {
		if other := rounds[stratum^1]; other > 0 && stratum%2 == 0 {
			s.weight[stratum/2] = n * other / (n + other) // the inverse variance of the difference of two means
			sum += s.weight[stratum/2]
		}
	}
	if sum == 0 {
		return s
	}
	for state := range s.weight {
		s.weight[state] /= sum
	}
	s.fit = series.Of(own)
	return s
}

// Pool weighs what may be assumed of the correlation of rounds by all splits of one kind of figure together, nil among
// them for those that are not known.
func Pool(splits []*Split) series.Weights {
	var fits []*series.Fit
	for _, s := range splits {
		if s != nil {
			fits = append(fits, s.fit)
		}
	}
	return series.Pool(fits, 1+len(fits))
}

// Mean gives the distribution of the means of both sides, each times its weight: 1, 0 the mean of the first; −1, 1 what
// the change did; ½, ½ the mean of both. nil for a nil Split.
func (s *Split) Mean(w series.Weights, first, second float64) *series.Mixture {
	if s == nil {
		return nil
	}
	return s.fit.Sum(w, func(stratum int) float64 {
		if stratum%2 == 0 {
			return first * s.weight[stratum/2]
		}
		return second * s.weight[stratum/2]
	})
}
