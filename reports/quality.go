package reports

import (
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// QualityOf counts what each survey holds and what speaks against it. The flags
// overload and receiver-limited are counted always, the others where they occur.
func QualityOf(in input.Selection) result.Quality {
	quality := result.Quality{Schema: result.SchemaQuality, Surveys: []result.QualitySurvey{}}
	for _, s := range in.Surveys {
		q := result.QualitySurvey{Survey: s.ID, Simulated: s.Simulated, Gaps: []result.QualityGap{}, Events: input.EventsOf(in.Events, s.ID), Visits: visitsOf(in.Visits, s.ID),
			Flagged: map[string]int{survey.FlagOverload: 0, survey.FlagReceiverLimited: 0}}
		if s.Ending != "" {
			q.Ending = &s.Ending
		}
		countSweeps(&q, in.Sweeps)
		for _, g := range in.Gaps {
			if g.Survey == s.ID {
				q.Gaps = append(q.Gaps, result.QualityGap{From: g.From.UTC(), To: g.To.UTC(), Why: g.Why})
			}
		}
		slices.SortFunc(q.Gaps, func(a, b result.QualityGap) int { return a.From.Compare(b.From) })
		quality.Surveys = append(quality.Surveys, q)
	}
	quality.Calibrations = served(in.Input)
	return quality
}

func countSweeps(q *result.QualitySurvey, sweeps []*survey.Sweep) {
	rounds := map[int]bool{}
	for _, s := range sweeps {
		if s.Survey != q.Survey {
			continue
		}
		q.Sweeps++
		rounds[s.Round] = true
		for i := range s.Readings {
			r := &s.Readings[i]
			q.Readings++
			for _, flag := range r.Quality.Flags {
				q.Flagged[flag]++
			}
			first, last := r.Start.UTC(), r.Start.Add(r.Duration).UTC()
			if q.First == nil || first.Before(*q.First) {
				q.First = &first
			}
			if q.Last == nil || last.After(*q.Last) {
				q.Last = &last
			}
		}
	}
	q.Rounds = len(rounds)
}
