package matrix

import (
	"nightfloor/reports/input"
	"nightfloor/reports/result"
)

// Periods gives the rounds of each period, by the middle of each round and the place of its
// survey; rounds whose place is not known stand in PeriodAll only.
func (m *Matrix) Periods(places map[int64]input.SunAt) map[string][]int {
	rounds := map[string][]int{}
	for n, key := range m.Rounds {
		rounds[result.PeriodAll] = append(rounds[result.PeriodAll], n)
		if at, ok := places[key.Survey]; ok {
			p := input.PeriodAt(m.middle[n], at.Lat, at.Lon)
			rounds[p] = append(rounds[p], n)
		}
	}
	return rounds
}
