package page

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A flagView is one flag, its meaning, and how many readings bear it.
type flagView struct{ Flag, Meaning, Share string }

// meanings of the flags, for who reads a page without the manual.
var meanings = map[string]string{
	survey.FlagOverload:        "the receiver was driven too hard: levels are wrong, left out of rankings",
	survey.FlagLowDrive:        "too little signal for the receiver's 8 bits: levels are coarse",
	survey.FlagReceiverLimited: "the floor is the receiver's own: an upper bound, ranks nobody by noise",
	survey.FlagDroppedSamples:  "samples were lost on their way from the receiver",
	survey.FlagNyquistImage:    "signals of another part of the spectrum may be folded in",
	survey.FlagCrowded:         "too little of the segment was free of signals to tell its floor",
	survey.FlagSetupDoubt:      "somebody answered late, and may have changed the antenna during the visit",
	survey.FlagClockSet:        "the clock was set later on: the reading's time is in doubt",
	survey.FlagShort:           "the reading is shorter than it was asked to be",
}

// flagsOf gives the flags that a survey's readings bear.
func flagsOf(s result.QualitySurvey) []flagView {
	var out []flagView
	for _, flag := range byCount(s.Flagged) {
		out = append(out, flagView{wording.Printable(flag), meanings[flag], shareOf(s.Flagged[flag], s.Readings)})
	}
	return out
}

// endingOf says how a survey ended.
func endingOf(ending *string) string {
	if ending == nil || *ending == "" {
		return "still running, or ended without a word"
	}
	return wording.Printable(*ending)
}

// eventsOf gives the events of a survey that are shown, moreEvents how many are not.
func eventsOf(s result.QualitySurvey) []result.QualityEvent {
	shown, _ := text.ShownEvents(s)
	return shown
}

func moreEvents(s result.QualitySurvey) int {
	_, left := text.ShownEvents(s)
	return left
}

// visitsOf says what went wrong with a survey's visits.
func visitsOf(v *result.QualityVisits) []string { return text.VisitLines(v, time.UTC) }

// byCount gives the flags that any reading bears, the most frequent first.
func byCount(flagged map[string]int) []string {
	flags := slices.SortedFunc(maps.Keys(flagged), func(a, b string) int {
		return cmp.Or(cmp.Compare(flagged[b], flagged[a]), cmp.Compare(a, b))
	})
	return slices.DeleteFunc(flags, func(f string) bool { return flagged[f] == 0 })
}

// shareOf writes "3 of 7200 readings".
func shareOf(n, of int) string { return fmt.Sprintf("%d of %s", n, wording.Count(of, "reading")) }

// spell writes how long a gap lasted: "41 s", "12 min", "3 h 26 min".
func spell(d time.Duration) string {
	switch d = d.Round(time.Second); {
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d%time.Hour < time.Minute:
		return fmt.Sprintf("%d h", int(d.Hours()))
	default:
		return fmt.Sprintf("%d h %d min", int(d.Hours()), int(d.Minutes())%60)
	}
}
