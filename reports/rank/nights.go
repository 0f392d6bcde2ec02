package rank

import (
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
)

// nightsOf numbers the nights of rounds: from noon to noon by the sun, by that of Greenwich where the
// place is not known; rounds by day from midnight to midnight, or each day would be two.
func nightsOf(m *matrix.Matrix, period string, rounds []int, places map[int64]input.SunAt) []int {
	const day = 24 * 3600
	begins := int64(day / 2)
	if period == result.PeriodDay {
		begins = 0
	}
	night := make([]int, len(rounds))
	for i, n := range rounds {
		sun := m.Middle(n).Unix() + int64(places[m.Rounds[n].Survey].Lon/360*day)
		night[i] = int((sun - begins) / day)
	}
	return night
}

// pieceOfNight is up to which share of the rounds of the median night rounds are no night of their own, as
// those before a survey was broken off. Chosen; TestNightsOfAPair fails when it moves.
const pieceOfNight = 0.5

// nights gives the interval with the night as the unit, over all states of the noise sources. Nights of
// which this pair has a piece only do not count.
func (c *comparison) nights(l look, p *pairing) *result.Nights {
	if l.state != "" {
		return nil
	}
	rounds := map[int]int{}
	for i, night := range c.night {
		if p.values.Counts(i) {
			rounds[night]++
		}
	}
	var sizes []float64
	for _, n := range rounds {
		sizes = append(sizes, float64(n))
	}
	least := pieceOfNight * stats.Median(sizes)
	values := p.values
	values.Stratum = slices.Clone(values.Stratum)
	for i, night := range c.night {
		if float64(rounds[night]) < least {
			values.Stratum[i] = -1
		}
	}
	count, low, high, ok := values.Nights(c.night)
	if !ok {
		return nil
	}
	return &result.Nights{Count: count, Low: result.DB(low), High: result.DB(high)}
}
