package matrix

import (
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
	"nightfloor/survey/sun"
)

// Periods gives the rounds of each period, by the middle of each round and the
// locator of its survey's site; rounds whose site is not known stand in "all" only.
func (f *Matrix) Periods(surveys []survey.Survey) map[string][]int {
	type place struct{ lat, lon float64 }
	sites := map[int64]place{}
	for _, s := range surveys {
		if lat, lon, err := sun.ParseLocator(s.Site.Locator); err == nil {
			sites[s.ID] = place{lat, lon}
		}
	}
	rounds := map[string][]int{}
	for n, key := range f.Rounds {
		rounds[result.PeriodAll] = append(rounds[result.PeriodAll], n)
		if at, ok := sites[key.Survey]; ok {
			p := input.PeriodAt(f.middle[n], at.lat, at.lon)
			rounds[p] = append(rounds[p], n)
		}
	}
	return rounds
}
