package stations

import (
	"math"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

// Where no raster tells a station, two things together do (STATISTICS.md 2.6). A transmitter is held by a
// crystal, which a switching supply is not: lines of a supply wander by their width and drift while it
// warms. And what comes by the ionosphere fades, for each path in its own way, while the lines of a
// device stand still or go up and down together. All four fail TestWhatShowsAStation when they move.
const (
	// crystal is by how much of its frequency a station moves from round to round, standard deviation:
	// stations of the simulated house by 0.1 to 0.5 Hz, lines of its supplies by 20 to 60 while they warm up.
	// A dongle's clock takes all lines with it, by less than this once it has run for some minutes.
	crystal = 1e-6
	// fades is by how much the level through one setup changes from round to round, standard
	// deviation, and so much against any other line: stations of the simulated house by 3.8 to 8.1 dB, lines of
	// its supplies by 0.1 to 1.0.
	fades = 1.5 // dB
	// certain is how strong a power must be to tell a change of level, in standard errors: each
	// change is then known to 4.34/10·√2 = 0.6 dB.
	certain = 10.0
	// fewestChanges is from how many changes their median tells something. Chosen.
	fewestChanges = 5
)

// A change is by how much the lines changed through one setup from one round to the next in which
// it was measured.
type change struct {
	level []float64 // by line: dB; NaN where one of both is not certain
	place []float64 // by line: Hz; NaN where it was not detected in both
}

// changesOver gives the changes over some rounds.
func (f *Finder) changesOver(rounds []int) (all []change) {
	for _, cells := range f.m.Cells {
		before := -1
		for _, n := range rounds {
			if cells[n] == nil {
				continue
			}
			if before >= 0 {
				if lower, ok := input.Refer(cells[n].Gain, cells[before].Gain); ok {
					all = append(all, changeOf(cells[before], cells[n], float64(lower)))
				}
			}
			before = n
		}
	}
	return all
}

func changeOf(from, to *matrix.Cell, lower float64) change {
	c := change{make([]float64, len(to.Snr)), make([]float64, len(to.Snr))}
	sure := func(cell *matrix.Cell, line int) bool { return cell.Snr[line] > certain*cell.Sigma[line] }
	for line := range c.level {
		c.level[line], c.place[line] = math.NaN(), to.Place[line]-from.Place[line]
		if sure(from, line) && sure(to, line) {
			c.level[line] = stats.Decibel(to.Snr[line]*to.Floor/from.Snr[line]/from.Floor) - lower
		}
	}
	return c
}

// isStation tells whether a line keeps its frequency as a transmitter does, and fades by itself;
// the others are lines that were heard beside it.
func (f *Finder) isStation(changes []change, line int, others []int) bool {
	if places, n := spread(changes, func(c change) float64 { return c.place[line] }); n < fewestChanges || places > crystal*f.m.Lines[line] {
		return false
	}
	levels, faded := spread(changes, func(c change) float64 { return c.level[line] })
	if faded < fewestChanges || levels < fades {
		return false
	}
	return !slices.ContainsFunc(others, func(other int) bool {
		apart, n := spread(changes, func(c change) float64 { return c.level[line] - c.level[other] })
		return other != line && 2*n >= faded && apart < fades
	})
}

// spread gives the spread of what is known of some changes, and of how many it is.
func spread(changes []change, of func(change) float64) (spread float64, n int) {
	var known []float64
	for _, c := range changes {
		if x := of(c); !math.IsNaN(x) {
			known = append(known, x)
		}
	}
	return stats.Spread(known), len(known)
}
