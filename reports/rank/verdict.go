package rank

import (
	"math"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	// fewestCarriers is under how many carriers nothing is said of the segment: two stations
	// stand in two directions, and their mean tells of them. TestFewCarriers fails when it moves.
	fewestCarriers = 3
	// mostMoreRounds is up to how many times the rounds measured more of them are said to decide.
	// Chosen: a week of nights for one. TestMoreRounds fails when it moves.
	mostMoreRounds = 7
)

// verdict says what the ranking comes to, nil where there is nothing to compare. Setups come in
// order of rank.
func (c *comparison) verdict(l look, setups []result.RankSetup) *result.Verdict {
	setups = slices.DeleteFunc(slices.Clone(setups), func(x result.RankSetup) bool { return x.Apart })
	if len(setups) < 2 {
		return nil
	}
	v := &result.Verdict{Setups: []survey.Setup{}}
	if !c.offers() {
		v.Kind = result.VerdictNoStations
		return v
	}
	told, most := false, 0
	for _, x := range setups {
		if x.MayBeBest {
			v.Setups = append(v.Setups, x.Setup)
		}
		if m := c.advantage(l, c.index(x), c.ref); m != nil && x.Setup != c.matrix.Setups[c.ref] {
			told, most = told || x.Low != nil, max(most, m.Rounds)
		}
	}
	c.lead(l, v, setups)
	switch {
	case len(c.lines) < fewestCarriers && c.of != result.OfTransmissions:
		v.Kind = result.VerdictFewCarriers
	case !told:
		v.Kind = result.VerdictFewRounds
		if lack := stats.MinRounds - most; lack > 0 && c.ref >= 0 {
			v.MoreRounds = &lack
		}
	case len(v.Setups) == 1:
		v.Kind = result.VerdictBest
	default:
		v.Kind = result.VerdictTie
		v.MoreRounds = c.moreToDecide(l, setups)
	}
	return v
}

// index gives the place of a setup among the matrix's.
func (c *comparison) index(s result.RankSetup) int { return slices.Index(c.matrix.Setups, s.Setup) }

// lead gives by how much the first setup is ahead of the second.
func (c *comparison) lead(l look, v *result.Verdict, setups []result.RankSetup) {
	if setups[1].Rank == 0 {
		return
	}
	m := c.advantage(l, c.index(setups[0]), c.index(setups[1]))
	if m == nil || m.Rounds == 0 {
		return
	}
	v.Lead = result.DB(m.Mean)
	if low, high, ok := m.Interval(); ok && !c.slow {
		v.Low, v.High = result.DB(low), result.DB(high)
	}
}

// moreToDecide gives how many further rounds would tell the first setup from all others that may be the
// best, nil where no such number would.
func (c *comparison) moreToDecide(l look, setups []result.RankSetup) *int {
	most := 0
	for _, x := range setups[1:] {
		if !x.MayBeBest {
			continue
		}
		m := c.advantage(l, c.index(setups[0]), c.index(x))
		if m == nil {
			return nil
		}
		low, high, ok := m.Interval()
		more, decides := moreRounds(m.Mean, (high-low)/2, m.Rounds)
		if !ok || !decides {
			return nil
		}
		most = max(most, more)
	}
	if most == 0 {
		return nil
	}
	return &most
}

// moreRounds gives how many rounds more than those measured would narrow the half width of an interval to the
// lead, since it narrows with the root of the rounds; decides is false where they are too many, or
// nothing leads.
func moreRounds(lead, half float64, rounds int) (more int, decides bool) {
	times := half / lead
	if times *= times; !(lead > 0) || times > mostMoreRounds {
		return 0, false
	}
	return max(0, int(math.Ceil((times-1)*float64(rounds)))), true
}
