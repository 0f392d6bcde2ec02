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
	if len(setups) < 2 {
		return nil
	}
	v := &result.Verdict{Setups: []survey.Setup{}}
	if !c.offers() {
		v.Kind = result.VerdictNoStations
		return v
	}
	told := false
	for _, s := range setups {
		if s.MayBeBest {
			v.Setups = append(v.Setups, s.Setup)
		}
		told = told || s.Low != nil && s.Setup != c.matrix.Setups[c.ref]
	}
	c.lead(l, v, setups)
	switch rounds := setups[0].Rounds; {
	case !told:
		v.Kind = result.VerdictFewRounds
		if lack := stats.MinRounds - rounds; lack > 0 {
			v.MoreRounds = &lack
		}
	case len(c.lines) < fewestCarriers && c.of == result.OfCarriers:
		v.Kind = result.VerdictFewCarriers
	case len(v.Setups) == 1:
		v.Kind = result.VerdictBest
	default:
		v.Kind = result.VerdictTie
		v.MoreRounds = moreRounds(v, rounds)
	}
	return v
}

// lead gives by how much the first setup is ahead of the second.
func (c *comparison) lead(l look, v *result.Verdict, setups []result.RankSetup) {
	index := func(i int) int { return slices.Index(c.matrix.Setups, setups[i].Setup) }
	if setups[1].Rank == 0 {
		return
	}
	m := c.advantage(l, index(0), index(1))
	if m == nil || m.Rounds == 0 {
		return
	}
	v.Lead = result.DB(m.Mean)
	if low, high, ok := m.Interval(); ok && !c.slow {
		v.Low, v.High = result.DB(low), result.DB(high)
	}
}

// moreRounds gives how many further rounds would narrow the lead's interval to the lead, since
// it narrows with the root of the rounds.
func moreRounds(v *result.Verdict, rounds int) *int {
	if v.Low == nil || *v.Lead <= 0 {
		return nil
	}
	half := float64(*v.High-*v.Low) / 2
	times := half / float64(*v.Lead)
	if times *= times; times <= 1 || times > mostMoreRounds {
		return nil
	}
	more := int(math.Ceil((times - 1) * float64(rounds)))
	return &more
}
