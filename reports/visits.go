package reports

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// visitsOf counts the visits of a survey; nil where none are kept.
func visitsOf(all []survey.Visit, id int64) *result.QualityVisits {
	q := result.QualityVisits{Why: []result.QualityMiss{}}
	for _, v := range all {
		if v.Survey != id {
			continue
		}
		q.Asked++
		if v.Reached == v.Asked {
			if strings.HasPrefix(v.Said, survey.SaidUnconfirmed) {
				q.Unconfirmed++
			}
			continue
		}
		missed := v.Reached == (survey.Setup{})
		if missed {
			q.Missed++
		} else {
			q.Elsewhere++
		}
		at := slices.IndexFunc(q.Why, func(m result.QualityMiss) bool { return m.Why == v.Said && m.Missed == missed })
		if at < 0 {
			at = len(q.Why)
			q.Why = append(q.Why, result.QualityMiss{Why: v.Said, Missed: missed, From: v.Start.UTC()})
		}
		q.Why[at].Visits++
		q.Why[at].To = v.Start.UTC()
	}
	if q.Asked == 0 {
		return nil
	}
	slices.SortStableFunc(q.Why, func(a, b result.QualityMiss) int { return b.Visits - a.Visits })
	return &q
}

// shownReasons is how many reasons a person is shown; JSON has them all.
const shownReasons = 6

// VisitLines says how the visits went, a line each; none where all reached what was asked.
func VisitLines(q *result.QualityVisits, zone *time.Location) (lines []string) {
	if q == nil {
		return nil
	}
	if q.Unconfirmed > 0 {
		lines = append(lines, fmt.Sprintf("%s of %d to what was in place before, with nobody to confirm it", wording.Count(q.Unconfirmed, "visit"), q.Asked))
	}
	for i, m := range q.Why {
		if i == shownReasons {
			lines = append(lines, fmt.Sprintf("and for %d more reasons; report quality --format json lists all", len(q.Why)-i))
			break
		}
		what := "reached another setup than asked for"
		if m.Missed {
			what = "missed, nothing measured"
		}
		when := m.From.In(zone).Format("2 Jan 15:04 MST")
		if m.Visits > 1 {
			when += " to " + m.To.In(zone).Format("2 Jan 15:04 MST")
		}
		lines = append(lines, fmt.Sprintf("%s of %d %s, %s: %s", wording.Count(m.Visits, "visit"), q.Asked, what, when, wording.Printable(m.Why)))
	}
	return lines
}

// writeVisits lists what went wrong with visits.
func writeVisits(b *strings.Builder, q *result.QualityVisits, zone *time.Location) {
	for _, line := range VisitLines(q, zone) {
		b.WriteString(wrap(line, "  ", "    ", 98))
	}
}
