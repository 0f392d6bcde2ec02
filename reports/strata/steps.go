package strata

import (
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
)

// Steps makes one source, without a number, of the steps of the floor that no noise source
// explains. Each is known to a round: so long before it began and after it ended nobody knows. ok
// is false where there is none.
func Steps(rises []result.Rise, round time.Duration) (s Source, ok bool) {
	always := input.Span{First: time.Unix(0, 0), Last: time.Unix(1<<36, 0)} // wherever rounds may be
	for _, r := range rises {
		if r.Kind != result.RiseStep || len(r.Sources) > 0 {
			continue
		}
		span := always
		if r.From != nil {
			span.First = *r.From
		}
		if r.To != nil {
			span.Last = *r.To
		}
		s.On = append(s.On, span)
	}
	slices.SortFunc(s.On, func(a, b input.Span) int { return a.First.Compare(b.First) })
	from := always.First
	for _, on := range s.On {
		if off := (input.Span{First: from, Last: on.First.Add(-round)}); off.First.Before(off.Last) {
			s.Off = append(s.Off, off)
		}
		if after := on.Last.Add(round); after.After(from) {
			from = after
		}
	}
	if from.Before(always.Last) {
		s.Off = append(s.Off, input.Span{First: from, Last: always.Last})
	}
	return s, len(s.On) > 0
}
