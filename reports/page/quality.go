package page

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A flagView is one flag, its meaning, and how many readings bear it.
type flagView struct{ Flag, Meaning, Share string }

// meanings of the flags, for who reads a page without the manual.
var meanings = map[string]string{
	survey.FlagOverload:        "the receiver was driven too hard: levels are wrong, left out of rankings",
	survey.FlagLowDrive:        "too little signal for the receiver's 8 bits: levels are coarse",
	survey.FlagReceiverLimited: "the floor is the receiver's own, or an amplifier's: an upper bound, ranks nobody by noise",
	survey.FlagDroppedSamples:  "samples were lost on their way from the receiver",
	survey.FlagNyquistImage:    "signals of another part of the spectrum may be folded in",
	survey.FlagCrowded:         "too little of the segment was free of signals to tell its floor",
	survey.FlagLineAtCentre:    "a strong line stood at the centre of the tuning: a station there is not told from the receiver's own DC offset",
	survey.FlagFilterEdge:      "the receiver's own filter leaves a part of the segment out: the floor is that of the rest",
	survey.FlagSetupDoubt:      "somebody answered late, and may have changed the antenna during the visit",
	survey.FlagClockSet:        "the clock was set later on, or stood behind earlier readings: the reading's time is in doubt",
	survey.FlagShort:           "the reading is shorter than it was asked to be",
}

// flagsOf gives the flags that a survey's readings bear, the most frequent first.
func flagsOf(s result.QualitySurvey) []flagView {
	flags := slices.SortedFunc(maps.Keys(s.Flagged), func(a, b string) int {
		return cmp.Or(cmp.Compare(s.Flagged[b], s.Flagged[a]), cmp.Compare(a, b))
	})
	var out []flagView
	for _, flag := range flags {
		if n := s.Flagged[flag]; n > 0 {
			out = append(out, flagView{wording.Printable(flag), meanings[flag], fmt.Sprintf("%d of %s", n, survey.Count(s.Readings, "reading"))})
		}
	}
	return out
}
