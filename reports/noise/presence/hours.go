package presence

import (
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
)

// Hours gives when the source was on and when it was known to be off, each in order of time by
// survey. Of what lies between the last detection and the first sign that it was off nobody knows, and
// neither of stretches in which nothing listened that could have shown it. Where a span was
// seen neither to begin nor to end, it takes in the whole of its first or last round.
func (p Presence) Hours(l *readlog.Log) (on, off []input.Span) {
	silent, spans := map[int64][]input.Span{}, map[int64][]Span{}
	var surveys []int64
	for n, r := range l.Rounds {
		if id := r.Key.Survey; !slices.Contains(surveys, id) {
			surveys = append(surveys, id)
		}
		if p.Listened[n] && !p.On[n] {
			silent[r.Key.Survey] = append(silent[r.Key.Survey], r.Span)
		}
	}
	for _, s := range p.Spans {
		spans[s.Survey] = append(spans[s.Survey], s)
		if s.OffBefore.IsZero() {
			s.First = l.Rounds[s.FirstRound].First
		}
		if s.OffAfter.IsZero() {
			s.Last = l.Rounds[s.LastRound].Last
		}
		on = append(on, s.Span)
	}
	for _, id := range surveys {
		own, whole := spans[id], l.Whole(id)
		for i := range len(own) + 1 {
			gap := whole
			if i > 0 {
				gap.First = own[i-1].OffAfter
			}
			if i < len(own) {
				gap.Last = own[i].OffBefore
			}
			if !gap.First.IsZero() && !gap.Last.Before(gap.First) {
				off = append(off, offWithin(gap, i > 0, i < len(own), silent[id], l.Longest)...)
			}
		}
	}
	return on, off
}

// offWithin gives when the source was off in a gap between spans: at its ends where spans bound it, in the silent
// rounds, and between these where they are no further apart than the longest time that
// nothing may listen.
func offWithin(gap input.Span, from, to bool, silent []input.Span, longest time.Duration) (off []input.Span) {
	var known []input.Span
	if from {
		known = append(known, input.Span{First: gap.First, Last: gap.First})
	}
	for _, r := range silent {
		if r.First.Before(gap.First) {
			r.First = gap.First
		}
		if r.Last.After(gap.Last) {
			r.Last = gap.Last
		}
		if !r.Last.Before(r.First) {
			known = append(known, r)
		}
	}
	if to {
		known = append(known, input.Span{First: gap.Last, Last: gap.Last})
	}
	for _, k := range known {
		if n := len(off); n > 0 && k.First.Sub(off[n-1].Last) <= longest {
			off[n-1] = off[n-1].With(k)
		} else {
			off = append(off, k)
		}
	}
	return off
}
