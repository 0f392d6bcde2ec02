package verdict

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Periods are all periods in the order of a day.
var Periods = []string{result.PeriodAll, result.PeriodDay, result.PeriodDusk, result.PeriodNight, result.PeriodDawn}

// A Table is the ranking at a glance: a row a segment, a column a period.
type Table struct {
	Periods []string // that any segment has
	Rows    []Row
}

// A Row is one segment's: a cell for each of the table's periods.
type Row struct {
	Segment string
	Cells   []Cell
}

// A Cell is a verdict in a few words, and the lead over the runner-up in dB; "" where none is told.
type Cell struct {
	Words, Lead string
	Best        bool // the words are the name of the setup that hears best
}

// most is how many setups of a tie a cell names, and how many pieces of advice of one sort are given;
// report bearings and noise-sources have them all.
const most = 3

// Entries gives the entries of a ranking without the periods that held all rounds of every segment: they repeat
// what is said of all hours.
func Entries(r result.Rank) (told []result.RankSegment) {
	own := map[string]bool{} // periods that say something of their own
	var all *result.RankSegment
	for i := range r.Segments {
		s := &r.Segments[i]
		if s.Headline() {
			all = s
		}
		own[s.Period] = own[s.Period] || s.Headline() || all == nil || !all.SameSegment(s) || !reflect.DeepEqual(all.Setups, s.Setups)
	}
	for _, s := range r.Segments {
		if own[s.Period] {
			told = append(told, s)
		}
	}
	return told
}

// At gives the table of a ranking, without rows where no setups were compared. Entries of single states of the noise
// sources are left to the sentences.
func At(r result.Rank) (t Table) {
	entries := slices.DeleteFunc(Entries(r), func(s result.RankSegment) bool { return s.State != nil })
	if !slices.ContainsFunc(entries, func(s result.RankSegment) bool { return s.Verdict != nil }) {
		return Table{}
	}
	for _, p := range Periods {
		if slices.ContainsFunc(entries, func(s result.RankSegment) bool { return s.Period == p }) {
			t.Periods = append(t.Periods, p)
		}
	}
	for i := range entries {
		s := &entries[i]
		if i == 0 || !s.SameSegment(&entries[i-1]) {
			t.Rows = append(t.Rows, Row{wording.Printable(s.Segment), slices.Repeat([]Cell{{Words: wording.None}}, len(t.Periods))})
		}
		t.Rows[len(t.Rows)-1].Cells[slices.Index(t.Periods, s.Period)] = cellOf(s)
	}
	return t
}

func cellOf(s *result.RankSegment) Cell {
	v := s.Verdict
	switch {
	case v != nil && v.Kind == result.VerdictNoStations:
		return Cell{Words: notHeardShort[s.Of]}
	case v == nil || ranked(s) < 2:
		return Cell{Words: "nothing to compare"}
	case v.Kind == result.VerdictFewRounds && says(s, doubt.SlowDrift):
		return Cell{Words: fmt.Sprintf("floors drift (%s)", survey.Count(s.MostRounds(), "round"))}
	case v.Kind == result.VerdictFewRounds:
		return Cell{Words: fmt.Sprintf("too few rounds (%d)", min(s.Setups[0].Rounds, s.Setups[1].Rounds))}
	case v.Kind == result.VerdictFewCarriers:
		return Cell{Words: fmt.Sprintf("too few stations (%d)", s.Setups[0].Carriers)}
	}
	c := Cell{Words: s.Setups[0].Setup.Short(wording.SetupRoom), Best: v.Kind == result.VerdictBest}
	if v.Kind == result.VerdictTie {
		c.Words = tie(v.Setups)
	}
	if lead, interval := lead(v); lead != "" {
		if level(v) {
			lead = "level"
		}
		c.Lead = lead + " (" + interval + ")"
	}
	return c
}

// notHeardShort says in a cell what notHeard says in a sentence.
var notHeardShort = map[string]string{
	"":                     "no stations",
	result.OfCarriers:      "no stations",
	result.OfListed:        "none of the listed heard",
	result.OfTransmissions: "too little on the air",
}

func tie(setups []survey.Setup) string {
	first := setups[0].Short(wording.SetupRoom)
	if len(setups) > most {
		return fmt.Sprintf("tie of %d, %s first", len(setups), first)
	}
	var all []string
	for _, s := range setups {
		all = append(all, s.Short(wording.SetupRoom))
	}
	return "tie: " + strings.Join(all, ", ")
}
