package reports

import (
	"time"

	"nightfloor/survey"
)

// A roundKey names a round: rounds count within their survey.
type roundKey struct {
	survey int64
	round  int
}

// A span is from when to when.
type span struct{ first, last time.Time }

// spanOf gives from when to when a reading was taken.
func spanOf(r *survey.Reading) span { return span{r.Start, r.Start.Add(r.Duration)} }

// with gives the span that holds both.
func (s span) with(t span) span {
	if t.first.Before(s.first) {
		s.first = t.first
	}
	if t.last.After(s.last) {
		s.last = t.last
	}
	return s
}
