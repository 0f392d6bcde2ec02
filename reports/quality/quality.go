package quality

import (
	"cmp"
	"maps"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// Of counts what each survey holds and what speaks against it. The flags
// overload and receiver-limited are counted always, the others where they occur.
func Of(in input.Selection) result.Quality {
	quality := result.Quality{Schema: result.SchemaQuality, Surveys: []result.QualitySurvey{}}
	for _, s := range in.Surveys {
		q := result.QualitySurvey{Survey: s.ID, Simulated: s.Simulated, Gaps: []result.QualityGap{}, Events: input.EventsOf(in.Events, s.ID), Visits: visitsOf(in.Visits, s.ID), OwnNoise: ownNoise(in.OwnNoise(), s.ID),
			Flagged: map[string]int{survey.FlagOverload: 0, survey.FlagReceiverLimited: 0}}
		if s.Name != "" {
			q.Name = &s.Name
		}
		if s.Ending != "" {
			q.Ending = &s.Ending
		}
		if s.DroopCalibration != 0 {
			q.DroopCalibration = &s.DroopCalibration
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
	rounds, span := map[int]bool{}, input.Span{}
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
			span = span.With(input.SpanOf(r))
		}
	}
	q.Rounds = len(rounds)
	if q.Readings > 0 {
		q.First, q.Last = new(span.First.UTC()), new(span.Last.UTC())
	}
}

// A service counts what a calibration served.
type service struct {
	surveys  map[int64]bool
	readings int
	before   int // readings that were taken before it
}

// served gives the calibrations that served the readings, oldest first.
func served(in input.Input) []result.QualityCalibration {
	services := map[*survey.Calibration]*service{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			k := in.CalibrationOf(s, i)
			if k == nil {
				continue
			}
			for _, run := range k.Runs {
				if services[run] == nil {
					services[run] = &service{surveys: map[int64]bool{}}
				}
				services[run].surveys[s.Survey] = true
				services[run].readings++
				if s.Readings[i].Start.Before(run.At) {
					services[run].before++
				}
			}
		}
	}
	out := []result.QualityCalibration{}
	for run, served := range services {
		q := result.QualityCalibration{Calibration: run.ID, Kind: run.Kind, Receiver: run.Receiver, At: run.At.UTC(), Note: run.Note, Droop: len(run.Droop) > 0,
			Surveys: slices.Sorted(maps.Keys(served.surveys)), Linearity: append([]survey.Linearity{}, run.Linearity...), Level: level.Worst(run.Levels), Doubts: append(doubtsOf(run, served), curveGone(in, "calibration", run.ID, run.Curve())...)}
		out = append(out, q)
	}
	slices.SortFunc(out, func(a, b result.QualityCalibration) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Calibration, b.Calibration))
	})
	return out
}

// doubtsOf says what speaks against a calibration that served.
func doubtsOf(run *survey.Calibration, served *service) []doubt.Doubt {
	doubts := []doubt.Doubt{}
	add := func(k doubt.Kind, n, of int, what string) {
		if n > 0 {
			doubts = append(doubts, doubt.New(k, n, doubt.Count{N: of, Noun: what}))
		}
	}
	add(doubt.CalibratedLate, served.before, served.readings, "reading")
	rough, products := 0, 0
	for _, n := range run.Noise {
		if n.Rough() {
			rough++
		}
	}
	for _, l := range run.Linearity {
		if l.Verdict == survey.VerdictProducts {
			products++
		}
	}
	add(doubt.FewCodes, rough, len(run.Noise), "figure")
	if slices.ContainsFunc(run.Levels, func(l survey.LevelReference) bool { return l.Basis == survey.BasisFigure }) {
		doubts = append(doubts, doubt.New(doubt.NoiseFigure))
	}
	add(doubt.Products, products, len(run.Linearity), "segment")
	return doubts
}

// visitsOf counts the visits of a survey; nil where none are kept.
func visitsOf(all []survey.Visit, id int64) *result.QualityVisits {
	q := result.QualityVisits{Why: []result.QualityMiss{}}
	for _, v := range all {
		if v.Survey != id {
			continue
		}
		q.Asked++
		if v.Unconfirmed() {
			q.Unconfirmed++
		}
		if v.Reached == v.Asked {
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
