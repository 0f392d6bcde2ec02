package store

import (
	"math"
	"time"
)

// A Filter says which sweeps are meant; the zero value means all.
type Filter struct {
	Survey  int64     // 0: all surveys
	From    time.Time // first start of a sweep; zero: from the beginning
	To      time.Time // sweeps that start before it; zero: to the end
	Segment string    // name of a segment: only its readings, and sweeps that have one; "": all
}

// args gives the arguments of meant and meantSweeps.
func (f Filter) args() []any {
	to := int64(math.MaxInt64)
	if !f.To.IsZero() {
		to = ceilMilliseconds(f.To)
	}
	return []any{f.Survey, ceilMilliseconds(f.From), to, f.Segment}
}

// Queries by a filter go over sweeps s, and readings r within them. CROSS JOIN keeps
// SQLite to that nesting, so that rows come sorted without being gathered first. ?1 is the
// survey, ?2 and ?3 bound the start, ?4 is the segment's name.
const (
	fromReadings = " FROM sweeps s CROSS JOIN readings r ON r.sweep = s.id"
	meantSweeps  = " WHERE ?1 IN (0, s.survey) AND s.start_ms >= ?2 AND s.start_ms < ?3 AND " +
		"(?4 = '' OR EXISTS (SELECT 1 FROM readings r WHERE r.sweep = s.id AND " + inSegment + "))"
	meant     = " WHERE ?1 IN (0, s.survey) AND s.start_ms >= ?2 AND s.start_ms < ?3 AND (?4 = '' OR " + inSegment + ")"
	inSegment = "r.segment IN (SELECT id FROM segments WHERE name = ?4)"
)

// The order of sweeps, and of readings within them.
const (
	bySweep   = " ORDER BY s.survey, s.start_ms, s.id"
	byReading = bySweep + ", r.id"
)

// ceilMilliseconds gives the first millisecond that is not before t.
func ceilMilliseconds(t time.Time) int64 {
	return t.Add(time.Millisecond - 1).UnixMilli()
}
