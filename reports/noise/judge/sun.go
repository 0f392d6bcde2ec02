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
		whole := l.Whole(id)
		if whole.First.IsZero() { // no reading is left of it
			continue
		}
		var last time.Time
		for near := whole.First; near.Before(whole.Last.Add(24 * time.Hour)); near = near.Add(24 * time.Hour) {
			if t, ok := crossingOf(at, near, rise); ok && t.Sub(last) >= time.Hour {
				all, last = append(all, crossing{id, t}), t
			}
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

// crossingOf gives the sunrise or sunset nearest to an instant, to a minute; ok is false
// where there is none within 14 hours.
func crossingOf(s input.SunAt, near time.Time, rise bool) (at time.Time, ok bool) {
	const step, reach = 37500 * time.Millisecond, 14 * time.Hour
	up := func(t time.Time) bool { return sun.Elevation(t, s.Lat, s.Lon) > horizon }
	for d := time.Duration(0); d < reach; d += step {
		for _, at := range []time.Time{near.Add(d), near.Add(-d)} {
			if up(at) == rise && up(at.Add(-step)) != rise {
				return at, true
			}
		}
	}
	return near, false
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
