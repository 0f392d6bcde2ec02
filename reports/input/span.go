package input

import (
	"time"

	"nightfloor/survey"
)

// A RoundKey names a round: rounds count within their survey.
type RoundKey struct {
	Survey int64
	Round  int
}

// A Span is from when to when.
type Span struct{ First, Last time.Time }

// SpanOf gives from when to when a reading was taken.
func SpanOf(r *survey.Reading) Span { return Span{r.Start, r.Start.Add(r.Duration)} }

// With gives the span that holds both; the zero Span holds nothing.
func (s Span) With(t Span) Span {
	if s == (Span{}) {
		return t
	}
	if t.First.Before(s.First) {
		s.First = t.First
	}
	if t.Last.After(s.Last) {
		s.Last = t.Last
	}
	return s
}

// Middle is halfway from First to Last.
func (s Span) Middle() time.Time { return s.First.Add(s.Last.Sub(s.First) / 2) }

// Holds tells whether an instant is within the span, its ends included.
func (s Span) Holds(t time.Time) bool { return !t.Before(s.First) && !t.After(s.Last) }
