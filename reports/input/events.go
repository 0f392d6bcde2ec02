package input

import (
	"slices"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// EventsOf gives the events of a survey in order of time.
func EventsOf(all []survey.Event, id int64) []result.QualityEvent {
	events := []result.QualityEvent{}
	for _, e := range all {
		if e.Survey != id {
			continue
		}
		event := result.QualityEvent{At: e.At.UTC(), Text: e.Text}
		if e.Repeaked != "" {
			event.Repeaked = &e.Repeaked
		}
		events = append(events, event)
	}
	slices.SortStableFunc(events, func(a, b result.QualityEvent) int { return a.At.Compare(b.At) })
	return events
}
