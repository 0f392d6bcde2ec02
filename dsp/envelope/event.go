package envelope

import "math"

// An Event is a run of samples that stand over the level of the noise.
type Event struct {
	First, Last int     // samples
	Top         int     // the one highest over its level
	Over        float64 // its power over that level
}

// Length gives the samples from the event's first to its last.
func (e Event) Length() int { return e.Last - e.First + 1 }

// An EventFinder finds short events in powers over time: runs of samples over Limit times the
// level of the noise. Limit follows from how often noise may pass it; which level holds is a
// matter of what must not count as an event (METHODS.md 8.6).
type EventFinder struct {
	Limit   float64
	Level   float64             // of the whole stretch
	Beside  func(i int) float64 // level about sample i, which holds where it is higher; nil: none
	Gap     int                 // samples from one over the limit to the next; more part two events
	Longest int                 // samples; what is longer is no event
}

// Find appends the events in power to found.
func (f EventFinder) Find(found []Event, power []float64) []Event {
	event := Event{First: -1}
	end := func() {
		if event.First >= 0 && event.Length() <= f.Longest {
			found = append(found, event)
		}
	}
	for i, p := range power {
		level := f.Level
		if p <= f.Limit*level { // spares the look beside
			continue
		}
		if f.Beside != nil {
			if level = max(level, f.Beside(i)); p <= f.Limit*level {
				continue
			}
		}
		if event.First < 0 || i-event.Last > f.Gap {
			end()
			event = Event{First: i}
		}
		event.Last = i
		if over := p / level; over > event.Over {
			event.Top, event.Over = i, over
		}
	}
	end()
	return found
}

// StretchShare gives the share of a reading's false alarms that its stretch number i may
// have, from 1: 6/(π²·i²), which sums to 1 however many there are.
func StretchShare(i int) float64 { return 6 / (math.Pi * math.Pi * float64(i) * float64(i)) }
