package rank

import (
	"math"
	"time"

	"nightfloor/reports/halves"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/survey"
)

// statesOf chooses the noise sources whose states are strata of a segment, nil where the reference
// was not measured. It gives the floors of each setup by round as well, in dB at the gain of its first cell; NaN: not known.
func statesOf(m *matrix.Matrix, ref int, sources []strata.Source, changes []halves.Change) (of *strata.Choice, all [][]float64) {
	if ref < 0 {
		return nil, nil
	}
	s := strata.Segment{Sources: sources, Reference: ref, Surveys: surveysOf(m)}
	for k := range m.Setups {
		floors, visits := make([]float64, len(m.Rounds)), make([]time.Time, len(m.Rounds))
		var gain *survey.Gain // of the setup's first cell, to which the others are referred: only changes count
		for n, c := range m.Cells[k] {
			if floors[n] = math.NaN(); c == nil {
				continue
			}
			visits[n] = c.Span.Middle()
			if gain == nil {
				gain = &c.Gain
			}
			if lower, ok := input.Refer(c.Gain, *gain); ok {
				floors[n] = stats.Decibel(c.Floor) - float64(lower)
			}
		}
		all = append(all, floors)
		s.Floors, s.Visits = append(s.Floors, halves.Level(changes, m.Rounds, floors)), append(s.Visits, visits)
		s.Gainless = append(s.Gainless, gain != nil && !gain.Known)
	}
	return strata.Choose(s), all
}

// surveysOf gives the survey of each round.
func surveysOf(m *matrix.Matrix) (surveys []int64) {
	for _, r := range m.Rounds {
		surveys = append(surveys, r.Survey)
	}
	return surveys
}
