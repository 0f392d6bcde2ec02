package noise

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/wording"
	"nightfloor/survey/sun"
)

// horizon is where the middle of the sun stands at its rise and set: half its width and
// the refraction of the air under it (The Astronomical Almanac), degrees.
const horizon = -0.833

// crossingOf gives the sunrise or sunset nearest to an instant, to a minute; ok is false
// where there is none within 14 hours.
func crossingOf(s input.SunAt, near time.Time, rise bool) (at time.Time, ok bool) {
	const step, reach = 10 * time.Minute, 14 * time.Hour
	up := func(t time.Time) bool { return sun.Elevation(t, s.Lat, s.Lon) > horizon }
	var best time.Duration
	before := up(near.Add(-reach))
	for d := -reach + step; d <= reach; d += step {
		now := up(near.Add(d))
		if now != before && now == rise {
			low, high := d-step, d
			for high-low > time.Minute {
				if middle := (low + high) / 2; up(near.Add(middle)) == now {
					high = middle
				} else {
					low = middle
				}
			}
			if !ok || high.Abs() < best.Abs() {
				best, ok = high, true
			}
		}
		before = now
	}
	return near.Add(best), ok
}

const (
	// bySun and byClock are within what time of sunrise or sunset, or of the same time of
	// day, a source must come on or go off for that to be said.
	bySun   = 30 * time.Minute
	byClock = 15 * time.Minute
)

// A habit is what comings or goings have in common.
type habit struct {
	words string // "": there is nothing to say
	times int    // that fit
	of    int
}

// often tells whether it fits at least twice, and two thirds of the time.
func (h habit) often() bool { return h.times >= 2 && 3*h.times >= 2*h.of }

// sunHabit says on how many of the days on which something listened at sunset, or at
// sunrise, the source came on then, or went off; verb is comes on or goes
// off.
func (j *judge) sunHabit(s *noiseSource, edges []readlog.Edge, verb, what string) (h habit) {
	var widest, last time.Duration
	for _, day := range daysOf(j.crossed[what]) {
		day = slices.DeleteFunc(day, func(c crossing) bool { return !j.listenedAt(c, s) })
		if len(day) > 0 {
			h.of++
		}
		for _, c := range day {
			i := slices.IndexFunc(edges, func(e readlog.Edge) bool {
				return e.Survey == c.survey && e.Middle().Sub(c.at).Abs()-e.Seen.Sub(e.Unseen).Abs()/2 <= bySun
			})
			if i >= 0 {
				e := edges[i]
				h.times, last = h.times+1, e.Middle().Sub(c.at)
				widest = max(widest, e.Seen.Sub(c.at).Abs(), e.Unseen.Sub(c.at).Abs())
				break
			}
		}
	}
	switch {
	case h.times == 1 && h.of == 1:
		h.words = fmt.Sprintf("%s %s %s, once", verb, beside(last), what)
	case h.often():
		h.words = fmt.Sprintf("%s within %.0f minutes of %s on %d of %d days", verb, 5*math.Ceil(widest.Minutes()/5), what, h.times, h.of)
	}
	return h
}

// daysOf parts crossings by day: those of surveys beside each other are within an hour.
func daysOf(all []crossing) (days [][]crossing) {
	for i, c := range all {
		if i == 0 || c.at.Sub(all[i-1].at) > time.Hour {
			days = append(days, nil)
		}
		days[len(days)-1] = append(days[len(days)-1], c)
	}
	return days
}

// once gives edges in order of time, those that surveys beside each other saw within a round
// of each other as one: the one that is known best.
func (l *noiseLog) once(edges []readlog.Edge) (out []readlog.Edge) {
	bounds := func(e readlog.Edge) (from, to time.Time) {
		if e.Seen.Before(e.Unseen) {
			return e.Seen, e.Unseen
		}
		return e.Unseen, e.Seen
	}
	for _, e := range slices.SortedStableFunc(slices.Values(edges), func(a, b readlog.Edge) int { return a.Seen.Compare(b.Seen) }) {
		from, to := bounds(e)
		same := slices.IndexFunc(out, func(o readlog.Edge) bool {
			first, last := bounds(o)
			return o.Survey != e.Survey && !from.After(last.Add(l.Usual)) && !to.Before(first.Add(-l.Usual))
		})
		switch {
		case same < 0:
			out = append(out, e)
		case e.Seen.Sub(e.Unseen).Abs() < out[same].Seen.Sub(out[same].Unseen).Abs():
			out[same] = e
		}
	}
	return out
}

func beside(away time.Duration) string {
	switch minutes := math.Round(away.Minutes()); {
	case minutes > 0:
		return wording.Count(int(minutes), "minute") + " after"
	case minutes < 0:
		return wording.Count(int(-minutes), "minute") + " before"
	}
	return "at"
}

// clockHabit says at what times of day edges fall, where most agree with another.
func clockHabit(edges []readlog.Edge, verb string, zone *time.Location) string {
	const most = 4 // times told of each hour
	var parts []string
	told, left := 0, onClock(edges, zone)
	for len(parts) <= 3 { // more say nothing
		centre, fit := 0.0, 0
		for _, c := range left {
			if n := sameHour(left, c.minute); n > fit {
				centre, fit = c.minute, n
			}
		}
		if fit < 2 {
			break
		}
		told += fit
		var times []string
		left = slices.DeleteFunc(left, func(c clockEdge) bool {
			if !c.near(centre) {
				return false
			}
			if len(times) < most {
				times = append(times, c.Seen.In(zone).Format("15:04"))
			}
			return true
		})
		if fit > most {
			times = append(times, fmt.Sprintf("… (%d times)", fit))
		}
		parts = append(parts, strings.Join(times, ", "))
	}
	if h := (habit{times: told, of: len(edges)}); !h.often() || len(parts) > 3 {
		return ""
	}
	return fmt.Sprintf("%s at %s local time", verb, wording.List(parts))
}

// A clockEdge is an edge with its minute on the clock: the day on which that changes has 23
// hours, or 25.
type clockEdge struct {
	readlog.Edge
	minute float64
}

func onClock(edges []readlog.Edge, zone *time.Location) (all []clockEdge) {
	for _, e := range edges {
		at := e.Seen.In(zone)
		all = append(all, clockEdge{e, float64(60*at.Hour()+at.Minute()) + float64(at.Second())/60})
	}
	return all
}

// near tells whether the edge is within byClock of a time of day.
func (c clockEdge) near(minute float64) bool {
	d := math.Abs(c.minute - minute)
	return min(d, 24*60-d) <= byClock.Minutes()
}

// sameHour counts the edges within byClock of a time of day.
func sameHour(edges []clockEdge, minute float64) (n int) {
	for _, c := range edges {
		if c.near(minute) {
			n++
		}
	}
	return n
}

const (
	sunset  = "sunset"
	sunrise = "sunrise"
)

// A crossing is a sunrise or sunset during a survey.
type crossing struct {
	survey int64
	at     time.Time
}

// listenedAt tells whether something listened to the source at a crossing or near it.
func (l *noiseLog) listenedAt(c crossing, s *noiseSource) bool {
	for _, n := range l.RoundsSince(c.survey, c.at.Add(-bySun)) {
		if l.Rounds[n].First.After(c.at.Add(bySun)) {
			return false
		}
		if s.listened[n] {
			return true
		}
	}
	return false
}

// crossings gives the sunrises or sunsets of all surveys whose site is known.
func (l *noiseLog) crossings(rise bool) (all []crossing) {
	spans := map[int64]input.Span{}
	for _, r := range l.Rounds {
		whole := input.Span{First: r.First, Last: r.Last}
		if s, ok := spans[r.Key.Survey]; ok {
			whole = s.With(whole)
		}
		spans[r.Key.Survey] = whole
	}
	for id, sun := range l.In.Suns() {
		s, ok := spans[id]
		if !ok {
			continue
		}
		for near := s.First; near.Before(s.Last.Add(24 * time.Hour)); near = near.Add(24 * time.Hour) {
			at, ok := crossingOf(sun, near, rise)
			seen := slices.ContainsFunc(all, func(c crossing) bool { return c.survey == id && c.at.Sub(at).Abs() < time.Hour })
			if ok && !seen {
				all = append(all, crossing{id, at})
			}
		}
	}
	slices.SortFunc(all, func(a, b crossing) int { return a.at.Compare(b.at) })
	return all
}

// Habits are what is to be said of when a source comes on and goes off.
type habits struct {
	words                          []string
	onSet, onRise, offSet, offRise habit
}

func (j *judge) habits(s *noiseSource) (h habits) {
	on, off := j.edges(s)
	h.onSet, h.onRise = j.sunHabit(s, on, "comes on", sunset), j.sunHabit(s, on, "comes on", sunrise)
	h.offSet, h.offRise = j.sunHabit(s, off, "goes off", sunset), j.sunHabit(s, off, "goes off", sunrise)
	for _, words := range []string{h.onSet.words, h.onRise.words, clockHabit(j.once(on), "comes on", j.zone),
		h.offSet.words, h.offRise.words, clockHabit(j.once(off), "goes off", j.zone)} {
		if words != "" {
			h.words = append(h.words, words)
		}
	}
	return h
}

// A daylight counts the rounds that listened by day and by night, the sun over the
// horizon or under it, and those of them in which the source was on.
type daylight struct{ day, dayOn, night, nightOn int }

func (l *noiseLog) daylight(s *noiseSource) (d daylight) {
	suns := l.In.Suns()
	for n, round := range l.Rounds {
		at, ok := suns[round.Key.Survey]
		if !ok || !s.listened[n] {
			continue
		}
		all, on := &d.night, &d.nightOn
		if sun.Elevation(round.First.Add(round.Last.Sub(round.First)/2), at.Lat, at.Lon) > horizon {
			all, on = &d.day, &d.dayOn
		}
		*all++
		if s.on[n] {
			*on++
		}
	}
	return d
}
