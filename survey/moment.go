package survey

import (
	"fmt"
	"strings"
	"time"
)

// momentLayouts are the ways of writing a time that ParseMoment knows; those
// behind zoned have no zone of their own.
var momentLayouts = []string{
	time.RFC3339, "2006-01-02 15:04:05Z07:00",
	"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04",
	"2.1.2006 15:04:05", "2.1.2006 15:04",
}

// zoned is how many of momentLayouts name their zone.
const zoned = 2

// ParseMoment reads a time: RFC 3339, or 2026-11-03 21:04[:05] or
// 03.11.2026 21:04[:05] by the clocks of zone. Of a time that those clocks
// showed twice, since they were set back over it, at is the first and again the second; again
// is zero for any other. A time that they never showed is refused.
func ParseMoment(text string, zone *time.Location) (at, again time.Time, err error) {
	text = strings.TrimSpace(text)
	for i, layout := range momentLayouts {
		wall, err := time.Parse(layout, text)
		switch {
		case err != nil:
			continue
		case i < zoned:
			return wall.UTC(), again, nil
		}
		return timeShown(text, wall, zone)
	}
	return at, again, fmt.Errorf("%q is no time; write it as 2026-11-03T21:04:10Z, or 2026-11-03 21:04:10 in local time", text)
}

// timeShown gives the moments at which the clocks of zone showed what wall shows.
func timeShown(text string, wall time.Time, zone *time.Location) (at, again time.Time, err error) {
	at = time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), wall.Nanosecond(), zone)
	if !wallClock(at).Equal(wall) {
		return at, again, fmt.Errorf("%q: clocks were set forward over this time; write it with its zone, as 2026-11-03T21:04:10Z", text)
	}
	// Which of two moments time.Date takes is not said. The other lies as far off
	// as the clocks were set within a day before or after.
	_, offset := at.Zone()
	for _, day := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, near := at.Add(day).Zone()
		other := at.Add(time.Duration(offset-near) * time.Second)
		if near == offset || !wallClock(other).Equal(wall) {
			continue
		}
		if again = other.UTC(); other.Before(at) {
			at, again = other, at.UTC()
		}
	}
	return at.UTC(), again, nil
}

// wallClock gives what the clocks of t's zone show at t, as a time in UTC.
func wallClock(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
}

// LocalTime writes a time for a person: by local clocks, with their zone.
func LocalTime(t time.Time) string { return t.Local().Format("2 Jan 2006 15:04:05 MST") }
