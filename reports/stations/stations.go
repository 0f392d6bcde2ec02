package stations

import (
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

// Lines are the lines of a segment that were heard often enough, by index into the matrix's: each
// is in one of the lists.
type Lines struct {
	Stations  []int
	Own       []int // the receiver's
	OffRaster []int // off the raster of a broadcast band
}

// Find tells which lines count in these rounds. A noisy house can put more lines into a band than
// there are stations. The raster is therefore gone by even where it holds a minority of the lines,
// if it holds clearly more of them than chance would put there (STATISTICS.md 2.2).
func Find(m *matrix.Matrix, rounds []int) (out Lines) {
	var heard []int
	for line := range m.Lines {
		switch {
		case !heardOften(m, line, rounds):
		case m.Own[line]:
			out.Own = append(out.Own, line)
		default:
			heard = append(heard, line)
		}
	}
	offset, on := rasterOffset(m, heard)
	expected := float64(len(heard)) * 2 * rasterTolerance / raster
	if !m.Segment.Broadcast() || on < 3 || 2*on <= len(heard) && float64(on) < 3+3*expected { // no raster to go by
		out.Stations = heard
		return out
	}
	for _, line := range heard {
		if offRaster(m.Lines[line], offset) <= rasterTolerance {
			out.Stations = append(out.Stations, line)
		} else {
			out.OffRaster = append(out.OffRaster, line)
		}
	}
	return out
}

// heardOften tells whether the line is heard through some setup in enough of
// the rounds.
func heardOften(m *matrix.Matrix, line int, rounds []int) bool {
	for k := range m.Setups {
		times, measured := 0, m.Measured(k, rounds)
		for _, n := range rounds {
			if m.Cells[k][n].Heard(line) {
				times++
			}
		}
		if times > 0 && (times >= matrix.HeardRounds || measured < stats.MinRounds && times == measured) {
			return true
		}
	}
	return false
}
