package page

import (
	"cmp"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// When something was measured, as far as a report tells: pictures know their
// rows, a row of the floor's table only its hour.

// longestHold is how long a column of a picture stands at most: after an hour
// the floor need not be what it was.
const longestHold = time.Hour

// hours tell when a segment was measured through each setup.
type hours struct {
	pictures []result.Waterfall // of the segment
	readings input.Span         // all of them; zero where not known
}

// hoursFor gives them for a segment.
func hoursFor(r *result.Report, s survey.Segment) (h hours) {
	h.pictures = slices.DeleteFunc(slices.Clone(r.Pictures), func(p result.Waterfall) bool { return p.Segment != s.Name })
	for _, q := range r.Quality.Surveys {
		if q.First != nil && q.Last != nil {
			h.readings = h.readings.With(input.Span{First: *q.First, Last: *q.Last})
		}
	}
	return h
}

// within gives the part of a row's hour in which its setup was measured: from its
// first to its last picture row where there are any, else what of the hour lies
// within the survey.
func (h hours) within(row result.FloorRow) input.Span {
	var found input.Span
	for _, p := range h.pictures {
		for _, t := range p.Times {
			if p.Setup == row.Setup && !t.Before(row.From) && t.Before(row.To) {
				found = found.With(input.Span{First: t, Last: t})
			}
		}
	}
	if found != (input.Span{}) {
		return found
	}
	found = input.Span{First: row.From, Last: row.To}
	if t := h.readings.First; found.Holds(t) {
		found.First = t
	}
	if t := h.readings.Last; found.Holds(t) {
		found.Last = t
	}
	return found
}

// hold gives how long a column stands at most where no other follows: twice as
// long as the setups' visits usually lie apart, since in shuffled rounds the next
// one comes within two rounds, and longestHold at most. Without two visits to a
// setup, rows stand for visits.
func (h hours) hold() time.Duration {
	visits, rows := []time.Duration{}, []time.Duration{}
	for i, p := range h.pictures {
		start := 0
		for r := 1; r < len(p.Times); r++ {
			rows = append(rows, p.Times[r].Sub(p.Times[r-1]))
			if h.otherBetween(i, p.Times[r-1], p.Times[r]) {
				visits = append(visits, p.Times[r].Sub(p.Times[start]))
				start = r
			}
		}
	}
	steps := visits
	if len(steps) == 0 {
		steps = rows
	}
	return min(2*middle(steps), longestHold)
}

// otherBetween tells whether another setup than that of picture i was measured
// between two instants: then a visit ended there.
func (h hours) otherBetween(i int, from, to time.Time) bool {
	for k, p := range h.pictures {
		if k == i || p.Setup == h.pictures[i].Setup {
			continue
		}
		next, _ := slices.BinarySearchFunc(p.Times, from, func(t, from time.Time) int {
			return cmp.Or(t.Compare(from), -1) // the first after from
		})
		if next < len(p.Times) && p.Times[next].Before(to) {
			return true
		}
	}
	return false
}

// turn gives the usual time from one visit to the next, whatever their setups: as
// long as the last column of a picture needs to be to be seen.
func (h hours) turn() time.Duration {
	var all []time.Time
	for _, p := range h.pictures {
		all = append(all, p.Times...)
	}
	slices.SortFunc(all, time.Time.Compare)
	var steps []time.Duration
	for i := 1; i < len(all); i++ {
		if step := all[i].Sub(all[i-1]); step > 10*time.Second { // less is within a visit
			steps = append(steps, step)
		}
	}
	return min(middle(steps), h.hold())
}

// middle gives the median of durations, 0 of none.
func middle(d []time.Duration) time.Duration {
	if len(d) == 0 {
		return 0
	}
	slices.Sort(d)
	return d[len(d)/2]
}
