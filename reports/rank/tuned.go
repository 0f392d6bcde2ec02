package rank

import (
	"fmt"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// tunedOut says which antennas of the plans are not compared in a segment because
// they are tuned to another stretch.
func tunedOut(in input.Input, segment survey.Segment) (doubts []string) {
	plans := in.Plans()
	for _, s := range in.Surveys {
		for _, a := range plans[s.ID].Antennas {
			text := fmt.Sprintf("%s is not compared here: it is tuned to %s", wording.Printable(a.Name), wording.Edges(a.TunedLow, a.TunedHigh))
			if !a.Measures(segment) && !slices.Contains(doubts, text) {
				doubts = append(doubts, text)
			}
		}
	}
	return doubts
}
