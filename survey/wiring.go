package survey

import "strings"

// A Wiring is how what leads from the antennas to the receiver stands, as far as a plan says it: one of
// WiringParts' states for each, "" where nothing is said, or nobody knows. Wirings compare with ==.
type Wiring struct {
	FeedLines string // to which end of the switch each antenna's feed line goes
	Idle      string // what the switch does with the antennas that are not heard
	Chokes    string // on the feed lines
}

// A WiringPart is what may be in one of several states.
type WiringPart struct {
	Key    string // in plans
	Name   string
	States []string
	of     func(*Wiring) *string
}

// KeyFeedLines is the key of the feed lines.
const KeyFeedLines = "feed_lines"

// WiringParts are the parts of a wiring.
var WiringParts = []WiringPart{
	{KeyFeedLines, "feed lines", []string{"straight", "crossed"}, func(w *Wiring) *string { return &w.FeedLines }},
	{"idle", "idle antennas", []string{"open", "50 ohm", "shorted"}, func(w *Wiring) *string { return &w.Idle }},
	{"chokes", "chokes", []string{"in", "out"}, func(w *Wiring) *string { return &w.Chokes }},
}

// Of gives the part's state.
func (p WiringPart) Of(w Wiring) string { return *p.of(&w) }

// Set puts the part into a state.
func (p WiringPart) Set(w *Wiring, state string) { *p.of(w) = state }

// String writes what is said: "feed lines straight, chokes in".
func (w Wiring) String() string {
	var parts []string
	for _, p := range WiringParts {
		if state := p.Of(w); state != "" {
			parts = append(parts, p.Name+" "+state)
		}
	}
	return strings.Join(parts, ", ")
}
