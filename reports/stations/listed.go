package stations

import (
	"math"

	"nightfloor/survey"
)

// listedTolerance is how far a listed line may stand from where it is listed, as a share of its
// frequency: crystals err by 20 parts in a million, and a plan corrects for the rest. The
// receiver's clock moves all lines alike, and what is heard most is taken.
// TestListedLines fails when it moves.
const listedTolerance = 20e-6

// A ListedLine is a frequency that a plan lists.
type ListedLine struct {
	Frequency survey.Hz
	Line      int // of the matrix, by which setups are compared; −1: it is not heard often enough through any setup
	Heard     int // rounds in which it is heard, through the setup that hears it most often
}

// Listed finds the lines at the frequencies that a plan lists (input.Listed). One that is heard often
// enough through some setup counts; through the others it is measured whether it is heard or not. Of lines
// within reach that is taken which is heard most in these rounds, of those alike the nearest. The receiver's own are left out.
func (f *Finder) Listed(frequencies []survey.Hz, rounds []int) (all []ListedLine) {
	m, taken, driven := f.m, map[int]bool{}, f.driven(rounds)
	for _, frequency := range frequencies {
		best, most, nearest := ListedLine{Frequency: frequency, Line: -1}, -1, 0.0
		for line, at := range m.Lines {
			away := math.Abs(at - float64(frequency))
			if m.Own[line] || taken[line] || away > max(rasterTolerance, listedTolerance*float64(frequency)) {
				continue
			}
			times, heard := f.timesHeard(line, rounds, driven)
			switch {
			case !f.heardOften(line, rounds, driven):
				if best.Line < 0 {
					best.Heard = max(best.Heard, heard)
				}
			case times > most || times == most && away < nearest:
				best.Line, best.Heard, most, nearest = line, heard, times, away
			}
		}
		if best.Line >= 0 {
			taken[best.Line] = true
		}
		all = append(all, best)
	}
	return all
}

// timesHeard counts the cells, over all antennas, in which a line is heard, and the most of one antenna's.
func (f *Finder) timesHeard(line int, rounds []int, driven bool) (times, most int) {
	for k := range f.m.Setups {
		heard := f.heardThrough(k, line, rounds, driven)
		times, most = times+heard, max(most, heard)
	}
	return times, most
}
