package rank

import (
	"math"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/survey"
)

// statesOf chooses the noise sources whose states are strata of a segment, nil where the reference
// was not measured.
func statesOf(m *matrix.Matrix, ref int, sources []strata.Source) *strata.Choice {
	if ref < 0 {
		return nil
	}
	s := strata.Segment{Sources: sources, Reference: ref}
	for k := range m.Setups {
		floors, visits := make([]float64, len(m.Rounds)), make([]time.Time, len(m.Rounds))
		var gain *survey.Gain // of the setup's first cell: only differences over rounds count
		for n, c := range m.Cells[k] {
			if floors[n] = math.NaN(); c == nil {
				continue
			}
			visits[n] = c.Span.Middle()
			if gain == nil {
				gain = &c.Gain
			}
			if offset, ok := c.Gain.Comparable(*gain); ok && c.Gain.Known && gain.Known {
				floors[n] = stats.Decibel(c.Floor) - float64(offset)
			}
		}
		s.Floors, s.Visits = append(s.Floors, floors), append(s.Visits, visits)
	}
	return strata.Choose(s)
}

// nightsOf numbers the nights of rounds: from noon to noon by the sun, by that of Greenwich where the
// place is not known. A night of fewer than half as many rounds as the median night counts for no
// night of its own: its rounds have −1.
func nightsOf(m *matrix.Matrix, rounds []int, places map[int64]input.SunAt) []int {
	night, count := make([]int, len(rounds)), map[int]int{}
	for i, n := range rounds {
		noon := m.Middle(n).Unix() + int64(places[m.Rounds[n].Survey].Lon*240) - 12*3600 // 240 s a degree
		night[i] = int(noon / (24 * 3600))
		count[night[i]]++
	}
	var sizes []float64
	for _, c := range count {
		sizes = append(sizes, float64(c))
	}
	least := stats.Median(sizes) / 2
	for i, n := range night {
		if float64(count[n]) < least {
			night[i] = -1
		}
	}
	return night
}
