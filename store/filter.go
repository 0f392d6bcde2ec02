package store

import (
	"strings"
	"time"
)

// A Filter says which sweeps are meant; the zero value means all.
type Filter struct {
	Survey  int64     // 0: all surveys
	From    time.Time // first start of a sweep; zero: from the beginning
	To      time.Time // sweeps that start before it; zero: to the end
	Segment string    // name of a segment: only its readings, and sweeps that have one; "": all
}

// where gives the conditions on sweeps s, and their arguments. The segment's,
// on segments g, stands last.
func (f Filter) where() (conditions []string, args []any) {
	add := func(condition string, arg any) {
		conditions = append(conditions, condition)
		args = append(args, arg)
	}
	if f.Survey != 0 {
		add("s.survey = ?", f.Survey)
	}
	if !f.From.IsZero() {
		add("s.start_ms >= ?", ceilMilliseconds(f.From))
	}
	if !f.To.IsZero() {
		add("s.start_ms < ?", ceilMilliseconds(f.To))
	}
	if f.Segment != "" {
		add("g.name = ?", f.Segment)
	}
	return conditions, args
}

// readings gives FROM and WHERE, with arguments, of a query over sweeps s,
// readings r in segments g, and whatever tables join adds. CROSS JOIN keeps
// SQLite to that nesting, so that rows come sorted without being gathered first.
func (f Filter) readings(join string) (clauses string, args []any) {
	conditions, args := f.where()
	return " FROM sweeps s CROSS JOIN readings r ON r.sweep = s.id CROSS JOIN segments g ON g.id = r.segment " +
		join + whereOf(conditions), args
}

// sweeps gives FROM and WHERE of a query over sweeps s with the same arguments
// as readings.
func (f Filter) sweeps() string {
	conditions, _ := f.where()
	if f.Segment != "" {
		conditions[len(conditions)-1] =
			"EXISTS (SELECT 1 FROM readings r JOIN segments g ON g.id = r.segment WHERE r.sweep = s.id AND g.name = ?)"
	}
	return " FROM sweeps s" + whereOf(conditions)
}

// whereOf joins conditions.
func whereOf(conditions []string) string {
	if len(conditions) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(conditions, " AND ")
}

// The order of sweeps, and of readings within them.
const (
	bySweep   = " ORDER BY s.survey, s.start_ms, s.id"
	byReading = bySweep + ", r.id"
)

// ceilMilliseconds gives the first millisecond that is not before t.
func ceilMilliseconds(t time.Time) int64 {
	ms := t.UnixMilli()
	if time.UnixMilli(ms).Before(t) {
		ms++
	}
	return ms
}
