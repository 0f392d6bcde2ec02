package wording

import (
	"fmt"
	"time"
)

// UTC writes an instant in UTC.
func UTC(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// Span writes from when to when, local time with its zone; within a minute, when.
func Span(from, to time.Time, zone *time.Location) string {
	from, to = from.In(zone), to.In(zone)
	if from.Truncate(time.Minute).Equal(to.Truncate(time.Minute)) {
		return from.Format("2 Jan 2006 15:04 MST")
	}
	begin, end := "2 Jan 2006 15:04", "2 Jan 2006 15:04 MST"
	switch {
	case from.Format(time.DateOnly) == to.Format(time.DateOnly):
		end = "15:04 MST"
	case from.Year() == to.Year():
		end = "2 Jan 15:04 MST"
	}
	if a, b := from.Format("MST"), to.Format("MST"); a != b { // a change of the clock in between
		begin += " MST"
	}
	return from.Format(begin) + " – " + to.Format(end)
}

// Duration writes 45 s, 20 min or 3 h 26 min.
func Duration(d time.Duration) string {
	minutes := int(d.Round(time.Minute).Minutes())
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case minutes < 60:
		return fmt.Sprintf("%d min", minutes)
	case minutes%60 == 0:
		return fmt.Sprintf("%d h", minutes/60)
	}
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}
