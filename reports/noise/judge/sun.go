package judge

import (
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/source"
	"nightfloor/reports/readlog"
	"nightfloor/survey/sun"
)

// horizon is where the middle of the sun stands at its rise and set: half its width and
// the refraction of the air under it (PHYSICS.md 3.3), degrees; TestSunriseAndSunset.
const horizon = -0.833

// A crossing is a sunrise or sunset during a survey.
type crossing struct {
	survey int64
	at     time.Time
}

// crossings gives the sunrises or sunsets of all surveys whose site is known, by day: those of surveys
// beside each other are within an hour.
func crossings(l *readlog.Log, rise bool) (days [][]crossing) {
	var all []crossing
	for id, at := range l.In.Suns() {
		for _, t := range crossingsOf(at, l.Whole(id), rise) {
			all = append(all, crossing{id, t})
		}
	}
	slices.SortFunc(all, func(a, b crossing) int { return a.at.Compare(b.at) })
	for i, c := range all {
		if i == 0 || c.at.Sub(all[i-1].at) > time.Hour {
			days = append(days, nil)
		}
		days[len(days)-1] = append(days[len(days)-1], c)
	}
	return days
}

// crossingsOf gives the sunrises or sunsets during a span and within bySun of it, to a minute.
func crossingsOf(s input.SunAt, during input.Span, rise bool) (all []time.Time) {
	const step = 37500 * time.Millisecond
	up := func(t time.Time) bool { return sun.Elevation(t, s.Lat, s.Lon) > horizon }
	for t := during.First.Add(-bySun); !t.After(during.Last.Add(bySun)); t = t.Add(step) {
		if up(t) == rise && up(t.Add(-step)) != rise {
			all = append(all, t)
		}
	}
	return all
}

// listenedAt tells whether something listened to the source at a crossing or near it.
func (k *known) listenedAt(x crossing, s *source.Source) bool {
	for _, n := range k.RoundsSince(x.survey, x.at.Add(-bySun)) {
		if k.Rounds[n].First.After(x.at.Add(bySun)) {
			return false
		}
		if s.Listened[n] {
			return true
		}
	}
	return false
}
