package survey

import (
	"cmp"
	"slices"
	"time"
)

// A RecordingInfo is one recording with what it covers, to be put into turns.
type RecordingInfo struct {
	Setup    Setup
	Start    time.Time
	Segments []string
}

// A Turn is where a recording belongs. All three count from 1 over the survey.
type Turn struct{ Round, Visit, Sweep int }

// Turns puts recordings into sweeps, visits and rounds by their start times:
// neighbours through one setup are one visit, those of different segments within
// it one sweep, and a round ends where a setup would come a second time.
// The result has the order of the input.
func Turns(taken []RecordingInfo) []Turn {
	order := make([]int, len(taken))
	for i := range order {
		order[i] = i
	}
	// Recordings that start together, as whole seconds let them, go by setup and
	// segments: the turns must not hang on the order they were imported in.
	slices.SortStableFunc(order, func(a, b int) int {
		s, t := &taken[a], &taken[b]
		return cmp.Or(s.Start.Compare(t.Start), cmp.Compare(s.Setup.String(), t.Setup.String()), slices.Compare(s.Segments, t.Segments))
	})
	turns := make([]Turn, len(taken))
	var at Turn
	var last Setup
	inRound, inSweep := map[Setup]bool{}, map[string]bool{}
	for _, i := range order {
		t := taken[i]
		if at.Visit == 0 || t.Setup != last {
			if at.Round == 0 || inRound[t.Setup] {
				at.Round++
				clear(inRound)
			}
			inRound[t.Setup] = true
			last = t.Setup
			at.Visit++
			at.Sweep++
			clear(inSweep)
		} else if slices.ContainsFunc(t.Segments, func(s string) bool { return inSweep[s] }) {
			at.Sweep++
			clear(inSweep)
		}
		for _, s := range t.Segments {
			inSweep[s] = true
		}
		turns[i] = at
	}
	return turns
}
