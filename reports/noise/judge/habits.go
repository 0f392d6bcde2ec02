package judge

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/presence"
	"nightfloor/reports/noise/source"
	"nightfloor/reports/readlog"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/sun"
)

// A source comes or goes with the sun where it does so within bySun of sunrise or sunset, and by the
// clock within byClock of the same time of day (STATISTICS.md 8.8);
// TestComesOnAtSunset, TestClockHabit.
const (
	bySun   = 30 * time.Minute
	byClock = 15 * time.Minute
)

// habits say when a source is on. Rounds that listened are counted by day, the sun over the
// horizon, and by night; dayOn and nightOn are those of them with the source.
type habits struct {
	words                      []string // on when it comes on and goes off; "": nothing to say
	withSun, withDark          bool     // it often comes on or goes off as the sun does, or as the dark
	day, dayOn, night, nightOn int
	// There were rounds enough by day and by night, and it was on in one of the two only.
	byDayOnly, byNightOnly bool
}

// often tells whether something happened at least twice, and two thirds of the times it could.
func often(times, of int) bool { return times >= 2 && 3*times >= 2*of }

func (k *known) habits(s *source.Source) (h habits) {
	on, off := s.Edges(k.Longest)
	onAtSunset, darkBegins := k.sunHabit(s, on, "comes on", "sunset", k.sunsets)
	onAtSunrise, sunBegins := k.sunHabit(s, on, "comes on", "sunrise", k.sunrises)
	offAtSunset, sunEnds := k.sunHabit(s, off, "goes off", "sunset", k.sunsets)
	offAtSunrise, darkEnds := k.sunHabit(s, off, "goes off", "sunrise", k.sunrises)
	h.withSun, h.withDark = sunBegins || sunEnds, darkBegins || darkEnds
	h.words = []string{onAtSunset, onAtSunrise, clockHabit(presence.Once(on, k.Usual), "comes on", k.zone),
		offAtSunset, offAtSunrise, clockHabit(presence.Once(off, k.Usual), "goes off", k.zone)}
	for n := range k.Rounds {
		if elevation := k.Rounds[n].Sun; s.Listened[n] && !math.IsNaN(elevation) {
			all, on := &h.night, &h.nightOn
			if elevation > horizon {
				all, on = &h.day, &h.dayOn
			}
			*all++
			if s.On[n] {
				*on++
			}
		}
	}
	h.byDayOnly = h.nightOn == 0 && h.night >= roundsFew && h.dayOn >= roundsFew
	h.byNightOnly = h.dayOn == 0 && h.day >= roundsFew && h.nightOn >= roundsFew
	return h
}

// tell says when the source is on.
func (h habits) tell(v *Verdict) {
	for _, words := range h.words {
		if words != "" {
			v.supports("%s", words)
		}
	}
	switch {
	case h.byDayOnly:
		v.supports("on by day only: in %d of %d rounds by day, in none of %d by night", h.dayOn, h.day, h.night)
	case h.byNightOnly:
		v.supports("on in the dark only: in %d of %d rounds by night, in none of %d by day", h.nightOn, h.night, h.day)
	}
}

// sunHabit says on how many of the days on which something listened at sunset, or at sunrise,
// the source came on then, or went off, and whether that is often. Verb is comes on or goes off,
// what sunset or sunrise.
func (k *known) sunHabit(s *source.Source, edges []readlog.Edge, verb, what string, days [][]crossing) (words string, usual bool) {
	times, of := 0, 0
	var widest, last time.Duration
	for _, day := range days {
		day = slices.DeleteFunc(slices.Clone(day), func(x crossing) bool { return !k.listenedAt(x, s) })
		if len(day) > 0 {
			of++
		}
		for _, x := range day {
			i := slices.IndexFunc(edges, func(e readlog.Edge) bool {
				return e.Survey == x.survey && e.Middle().Sub(x.at).Abs()-e.Seen.Sub(e.Unseen).Abs()/2 <= bySun
			})
			if i >= 0 {
				e := edges[i]
				times, last = times+1, e.Middle().Sub(x.at)
				widest = max(widest, e.Seen.Sub(x.at).Abs(), e.Unseen.Sub(x.at).Abs())
				break
			}
		}
	}
	switch {
	case times == 1 && of == 1:
		return fmt.Sprintf("%s %s %s, once", verb, beside(last), what), false
	case often(times, of):
		return fmt.Sprintf("%s within %.0f minutes of %s on %d of %d days", verb, 5*math.Ceil(widest.Minutes()/5), what, times, of), true
	}
	return "", false
}

func beside(late time.Duration) string {
	switch minutes := math.Round(late.Minutes()); {
	case minutes > 0:
		return survey.Count(int(minutes), "minute") + " after"
	case minutes < 0:
		return survey.Count(int(-minutes), "minute") + " before"
	}
	return "at"
}

// clockHabit says at what times of day a source comes on, or goes off, where most agree with
// another; else "".
func clockHabit(edges []readlog.Edge, verb string, zone *time.Location) string {
	const partsMost, timesMost = 3, 4 // more parts say nothing; so many times are told of each
	var parts []string
	told, left := 0, make([]float64, len(edges)) // minutes after midnight
	for i, e := range edges {
		at := e.Seen.In(zone)
		left[i] = float64(60*at.Hour()+at.Minute()) + float64(at.Second())/60
	}
	for len(parts) <= partsMost {
		best, most := 0.0, 0
		for _, minute := range left {
			near := 0
			for _, other := range left {
				if sameTimeOfDay(other, minute) {
					near++
				}
			}
			if near > most {
				best, most = minute, near
			}
		}
		if most < 2 {
			break
		}
		told += most
		var times []string
		left = slices.DeleteFunc(left, func(minute float64) bool {
			same := sameTimeOfDay(minute, best)
			if same && len(times) < timesMost {
				times = append(times, fmt.Sprintf("%02d:%02d", int(minute)/60, int(minute)%60))
			}
			return same
		})
		if most > timesMost {
			times = append(times, fmt.Sprintf("… (%d times)", most))
		}
		parts = append(parts, strings.Join(times, ", "))
	}
	if !often(told, len(edges)) || len(parts) > partsMost {
		return ""
	}
	return fmt.Sprintf("%s at %s local time", verb, wording.List(parts))
}

// sameTimeOfDay tells whether two times, in minutes after midnight, are within byClock of each other
// on the clock, whatever the day: one on which the clock changes has 23 hours, or 25.
func sameTimeOfDay(a, b float64) bool {
	d := math.Abs(a - b)
	return min(d, 24*60-d) <= byClock.Minutes()
}

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
		for _, during := range stretches(l, id) {
			for _, t := range crossingsOf(at, during, rise) {
				all = append(all, crossing{id, t})
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

// sunStep is how far apart the sun is looked at, 1/2304 of a day: a crossing is known to a minute.
const sunStep = 37500 * time.Millisecond

// away is for how long nothing may have been measured while the sun is looked at all the same. A
// survey with a reading of 1970, of a clock that was never set, has fifty years in which nothing
// was measured. TestFarReading fails without it.
const away = 30 * 24 * time.Hour

// stretches parts the time that a survey lasted where nothing was measured for long. Each stretch
// begins a whole number of steps after the first.
func stretches(l *readlog.Log, id int64) []input.Span {
	whole := l.Whole(id)
	all, last := []input.Span{whole}, whole.First
	for i := range l.Readings {
		r := &l.Readings[i]
		if r.Sweep.Survey != id {
			continue
		}
		if r.Start.Sub(last) > away {
			all[len(all)-1].Last = last
			all = append(all, input.Span{First: whole.First.Add(r.Start.Sub(whole.First).Truncate(sunStep)), Last: whole.Last})
		}
		if r.End().After(last) {
			last = r.End()
		}
	}
	return all
}

// crossingsOf gives the sunrises or sunsets during a span and within bySun of it, to a minute.
func crossingsOf(s input.SunAt, during input.Span, rise bool) (all []time.Time) {
	up := func(t time.Time) bool { return sun.Elevation(t, s.Lat, s.Lon) > horizon }
	for t := during.First.Add(-bySun); !t.After(during.Last.Add(bySun)); t = t.Add(sunStep) {
		if up(t) == rise && up(t.Add(-sunStep)) != rise {
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
