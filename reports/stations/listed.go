package stations

import (
	"math"

	"nightfloor/reports/matrix"
	"nightfloor/survey"
)

// listedTolerance is how far a listed line may stand from where it is listed, as a share of its
// frequency: crystals err by 20 parts in a million, and a plan corrects for the rest. The
// receiver's clock moves all lines alike, and what is heard most is taken.
// TestListedLines fails when it moves.
const listedTolerance = 20e-6

// Listed gives the lines at the frequencies that a plan lists (input.Listed), as far as they are heard often
// enough through some setup; through the others each is measured whether it is heard or not. Of lines
// within reach that is taken which is heard most in these rounds, of those alike the nearest. The receiver's own are left out.
func Listed(m *matrix.Matrix, frequencies []survey.Hz, rounds []int) (lines []int) {
	taken := map[int]bool{}
	for _, f := range frequencies {
		best, most, nearest := -1, -1, 0.0
		for line, at := range m.Lines {
			away := math.Abs(at - float64(f))
			if m.Own[line] || taken[line] || !heardOften(m, line, rounds) || away > max(rasterTolerance, listedTolerance*float64(f)) {
				continue
			}
			times := timesHeard(m, line, rounds)
			if times > most || times == most && away < nearest {
				best, most, nearest = line, times, away
			}
		}
		if best >= 0 {
			taken[best] = true
			lines = append(lines, best)
		}
	}
	return lines
}

// timesHeard counts the cells, over all setups, in which a line is heard.
func timesHeard(m *matrix.Matrix, line int, rounds []int) (times int) {
	for k := range m.Setups {
		for _, n := range rounds {
			if m.Cells[k][n].Heard(line) {
				times++
			}
		}
	}
	return times
}
