package reports

import (
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

var sunPeriods = []string{result.PeriodDay, result.PeriodDusk, result.PeriodNight, result.PeriodDawn}

// twilight is how far over and under the horizon the middle of the sun may
// stand for it to be dusk or dawn, in degrees: down to civil twilight, and as far
// up, since the D layer of the ionosphere builds up and decays that long.
const twilight = 6

// periodAt gives the period of an instant at a site: night under −6° of sun, day
// over +6°, between them dawn while the sun rises, dusk while it sets.
func periodAt(t time.Time, latDeg, lonDeg float64) string {
	switch h := survey.SunElevation(t, latDeg, lonDeg); {
	case h < -twilight:
		return result.PeriodNight
	case h > twilight:
		return result.PeriodDay
	case survey.SunRising(t, lonDeg):
		return result.PeriodDawn
	}
	return result.PeriodDusk
}

// periods gives the rounds of each period, by the middle of each round and the
// locator of its survey's site; rounds whose site is not known stand in "all" only.
func (f *roundMatrix) periods(surveys []survey.Survey) map[string][]int {
	type place struct{ lat, lon float64 }
	sites := map[int64]place{}
	for _, s := range surveys {
		if lat, lon, err := survey.ParseLocator(s.Site.Locator); err == nil {
			sites[s.ID] = place{lat, lon}
		}
	}
	rounds := map[string][]int{}
	for n, key := range f.rounds {
		rounds[result.PeriodAll] = append(rounds[result.PeriodAll], n)
		if at, ok := sites[key.survey]; ok {
			p := periodAt(f.middle[n], at.lat, at.lon)
			rounds[p] = append(rounds[p], n)
		}
	}
	return rounds
}
