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

// A qualityView is what one survey holds and what speaks against it.
type qualityView struct {
	Survey                   int64
	Simulated                bool
	First, Last              *stamp
	Rounds, Sweeps, Readings int
	Flags                    []flagView
	Gaps                     []gapView
	Visits                   []string // what went wrong with them
	Events                   []eventView
	MoreEvents               int // that are not shown
	Ending                   string
}

// A flagView is one flag, its meaning, and how many readings bear it.
type flagView struct{ Flag, Meaning, Share string }

// A gapView is one stretch without readings.
type gapView struct {
	From, To  stamp
	Long, Why string
}

// An eventView is what a person noted.
type eventView struct {
	At    stamp
	Text  string
	Other string // the antenna that is another from then on
}

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

// qualityOf puts the surveys' quality into words.
func qualityOf(q result.Quality) []qualityView {
	var out []qualityView
	for _, s := range q.Surveys {
		v := qualityView{
			Survey: s.Survey, Simulated: s.Simulated,
			Rounds: s.Rounds, Sweeps: s.Sweeps, Readings: s.Readings,
			First: stampAt(s.First), Last: stampAt(s.Last),
			Ending: "still running, or ended without a word",
		}
		if s.Ending != nil && *s.Ending != "" {
			v.Ending = wording.Printable(*s.Ending)
		}
		for _, flag := range byCount(s.Flagged) {
			v.Flags = append(v.Flags, flagView{wording.Printable(flag), meanings[flag], shareOf(s.Flagged[flag], s.Readings)})
		}
		for _, g := range s.Gaps {
			v.Gaps = append(v.Gaps, gapView{stampOf(g.From), stampOf(g.To), spell(g.To.Sub(g.From)), wording.Printable(g.Why)})
		}
		v.Visits = text.VisitLines(s.Visits, time.UTC)
		events, left := text.ShownEvents(s)
		for _, e := range events {
			event := eventView{At: stampOf(e.At), Text: wording.Printable(e.Text)}
			if e.Repeaked != nil {
				event.Other = wording.Printable(*e.Repeaked)
			}
			v.Events = append(v.Events, event)
		}
		v.MoreEvents = left
		out = append(out, v)
	}
	return out
}

func stampAt(t *time.Time) *stamp {
	if t == nil {
		return nil
	}
	s := stampOf(*t)
	return &s
}

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
