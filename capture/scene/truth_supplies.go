package scene

import (
	"time"

	"nightfloor/survey"
)

// A Supply is a switching supply of the house: where its comb settles, and when it is on.
type Supply struct {
	Name    string
	Spacing survey.Hz // once warm
	Hours   []Hours
}

// Hours are a stretch of time in which something is on.
type Hours struct{ From, To time.Time }

// Supplies lists the switching supplies that are on at any time between two, cut to it,
// to the minute.
func (t Truth) Supplies(from, to time.Time) []Supply {
	var out []Supply
	for i := range t.world.supplies {
		u := &t.world.supplies[i]
		s := Supply{Name: u.name, Spacing: survey.Hz(u.spacing)}
		open := false
		for at := from; at.Before(to); at = at.Add(time.Minute) {
			on := u.on(t.world.timeOfDay(t.world.since(at)))
			switch {
			case on && open:
				s.Hours[len(s.Hours)-1].To = at
			case on:
				s.Hours = append(s.Hours, Hours{at, at})
			}
			open = on
		}
		if len(s.Hours) > 0 {
			out = append(out, s)
		}
	}
	return out
}
