// Package logbook finds the survey that an event belongs to: the one that is running, or
// the one that covers the event's time. It knows surveys by their times only; who stores
// events is left to the caller.
package logbook

import (
	"fmt"
	"strings"
	"time"

	"nightfloor/survey"
)

// An Entry is a survey and how far it came.
type Entry struct {
	survey.Survey
	Latest time.Time // the last moment of which something is stored, by the survey's own clock
}

// A Book lists surveys in the order in which they were begun.
type Book struct {
	Entries []*Entry
	Now     time.Time // local: times are shown by its zone's clocks
}

// Running gives the survey that is being recorded, as far as the database tells: of
// those that have not ended a real one, written last; nil for none.
func (b Book) Running() (found *Entry) {
	for _, s := range b.Entries {
		if s.Kind == survey.KindRecord && s.End.IsZero() && s.before(found, func(s *Entry) time.Time { return s.Latest }) {
			found = s
		}
	}
	return found
}

// At gives the survey that was under way at a time, nil for none; of several a
// real one, begun last. Past its latest moment a survey that has not ended counts only
// if open says so.
func (b Book) At(at time.Time, open bool) (found *Entry) {
	for _, s := range b.Entries {
		end := s.End
		if end.IsZero() {
			end = s.Latest
		}
		if at.Before(s.Start) || at.After(end) && !(open && s.End.IsZero()) {
			continue
		}
		if s.before(found, func(s *Entry) time.Time { return s.Start }) {
			found = s
		}
	}
	return found
}

// before tells whether an event is noted in s rather than in other: in a real survey
// before a simulated one, else in that of the later time.
func (s *Entry) before(other *Entry, of func(*Entry) time.Time) bool {
	switch {
	case other == nil:
		return true
	case s.Simulated != other.Simulated:
		return other.Simulated
	}
	return !of(s).Before(of(other))
}

// Clock writes a time by local clocks, with its day unless that is today.
func (b Book) Clock(at time.Time) string {
	at = at.In(b.Now.Location())
	if at.Format(time.DateOnly) == b.Now.Format(time.DateOnly) {
		return at.Format("15:04:05 MST")
	}
	return at.Format("2 Jan 2006 15:04:05 MST")
}

// List names the surveys, of many the newest.
func (b Book) List() string {
	const most = 5
	var names []string
	for _, s := range b.Entries[max(0, len(b.Entries)-most):] {
		end, mark := "until "+b.Clock(s.End), ""
		if s.End.IsZero() {
			end = "measured until " + b.Clock(s.Latest) + ", not ended"
		}
		if s.Simulated {
			mark = ", simulated"
		}
		names = append(names, fmt.Sprintf("survey %d (from %s, %s%s)", s.ID, b.Clock(s.Start), end, mark))
	}
	if left := len(b.Entries) - most; left > 0 {
		names = append([]string{fmt.Sprintf("%d earlier ones", left)}, names...)
	}
	return strings.Join(names, ", ")
}

// ParseTime reads a time as survey.ParseMoment does, by the clocks of now's zone; one
// without a day is the last such time before now. A time that clocks showed twice is refused.
func ParseTime(text string, now time.Time) (time.Time, error) {
	zone := now.Location()
	whole := strings.TrimSpace(text)
	for _, layout := range []string{"15:04", "15:04:05"} {
		clock, err := time.Parse(layout, whole)
		if err != nil {
			continue
		}
		day := now
		if clock.Format(time.TimeOnly) > now.Format(time.TimeOnly) {
			day = time.Date(now.Year(), now.Month(), now.Day()-1, 12, 0, 0, 0, zone)
		}
		whole = day.Format("2006-01-02 ") + clock.Format(time.TimeOnly)
		break
	}
	at, again, err := survey.ParseMoment(whole, zone)
	if err != nil && strings.Contains(whole, ":") && len(whole) <= len("15:04:05") {
		err = fmt.Errorf("%q is no time; write it as 21:04, or with its day as 2026-11-03 21:04, in local time", text)
	}
	if err == nil && !again.IsZero() {
		err = fmt.Errorf("%q: clocks showed that twice in this night; write it with its zone, as 2026-10-25T02:30:00+01:00", text)
	}
	return at, err
}
