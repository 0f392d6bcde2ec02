package input

import (
	"cmp"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// ImpossibleDoubts tell of rows that were left out, since what they hold cannot be: a doubt for
// each survey, and one for what is of no survey or is a survey itself.
func ImpossibleDoubts(left []survey.LeftOut) (doubts []doubt.Doubt) {
	left = slices.Clone(left)
	for i := range left {
		if left[i].Table == "surveys" {
			left[i].Survey = 0
		}
	}
	slices.SortStableFunc(left, func(a, b survey.LeftOut) int {
		return cmp.Or(cmp.Compare(a.Survey, b.Survey), cmp.Compare(a.Table, b.Table))
	})
	for len(left) > 0 {
		n := 1
		for n < len(left) && left[n].Survey == left[0].Survey {
			n++
		}
		var rows []string
		for _, l := range left[:n] {
			rows = append(rows, survey.Count(l.Rows, "row")+" of "+l.Table)
		}
		if id := left[0].Survey; id == 0 {
			doubts = append(doubts, doubt.New(doubt.ImpossibleAll, wording.List(rows)))
		} else {
			doubts = append(doubts, doubt.New(doubt.Impossible, id, wording.List(rows)))
		}
		left = left[n:]
	}
	return doubts
}

// impossibleIn gives what was left out of a survey, 0 for all, and of no survey.
func (in Input) impossibleIn(id int64) []survey.LeftOut {
	return slices.DeleteFunc(slices.Clone(in.Impossible), func(l survey.LeftOut) bool { return id != 0 && l.Survey != 0 && l.Survey != id })
}
