package reports

import (
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
)

// shownEvents is how many events of a survey a person is shown: a plug's log has
// thousands. JSON has them all.
const shownEvents = 12

// ShownEvents gives the events of the survey that a person is shown, those that make an
// antenna another before all, and how many are left out.
func ShownEvents(s result.QualitySurvey) (events []result.QualityEvent, left int) {
	free := shownEvents
	for _, e := range s.Events {
		if e.Repeaked != nil {
			free--
		}
	}
	for _, e := range s.Events {
		switch {
		case e.Repeaked != nil:
		case free > 0:
			free--
		default:
			left++
			continue
		}
		events = append(events, e)
	}
	return events, left
}

// writeEvents lists what was noted, times in the given zone.
func writeEvents(b *strings.Builder, s result.QualitySurvey, zone *time.Location) {
	events, left := ShownEvents(s)
	for _, e := range events {
		text := wording.Printable(e.Text)
		if e.Repeaked != nil {
			text = wording.Printable(*e.Repeaked) + " is another antenna from then on: " + text
		}
		b.WriteString(wrap("noted: "+e.At.In(zone).Format("2 Jan 2006 15:04:05 MST")+", "+text, "  ", "    ", 98))
	}
	if left > 0 {
		b.WriteString("  noted: " + wording.Grouped(left) + " more; report quality --format json lists all\n")
	}
}
