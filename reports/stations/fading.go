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
// device stand still or go up and down together. All five fail TestWhatShowsAStation when they move.
const (
	// crystal is by how much of its frequency a station moves from round to round, standard deviation:
	// stations of the simulated house by 0.1 to 0.5 Hz, lines of its supplies by 20 to 60 while they warm up.
	// A dongle's clock takes all lines with it, by less than this once it has run for some minutes.
	crystal = 1e-6
	// fades is by how much the level through one setup changes from round to round, standard
	// deviation: stations of the simulated house by 1.4 to 4 dB where a visit lasts 20 s, by 3.8 to 8 dB where it is
	// shorter, lines of its supplies by 0.1 to 1.
	fades = 1.5 // dB
	// together is under what share of its own changes those against another line are where both go
	// up and down together: they share 95 % of their variance. Of 17 stations beside 50 other lines, 21 changes each, none
	// comes under 0.34 by chance.
	together = 1.0 / 3
	// certain is how strong a power must be to tell a change of level, in standard errors: each
	// change is then known to 4.34/10·√2 = 0.6 dB.
	certain = 10.0
	// fewestChanges is from how many changes their median tells something. Chosen.
	fewestChanges = 5
)

// A change is from one round to the next in which a setup was measured.
type change struct {
	from, to *matrix.Cell
	lower    float64 // dB by which levels of to are lowered to compare
}

// changesOver gives the changes over some rounds.
func (f *Finder) changesOver(rounds []int) (all []change) {
	for _, cells := range f.m.Cells {
		var before *matrix.Cell
		for _, n := range rounds {
			c := cells[n]
			if c == nil {
				continue
			}
			if before != nil {
				if lower, ok := input.Refer(c.Gain, before.Gain); ok {
					all = append(all, change{before, c, float64(lower)})
				}
			}
			before = c
		}
	}
	return all
}

// level gives by how much a line's level changed, dB; NaN where one of both is not certain.
func (c change) level(line int) float64 {
	for _, cell := range []*matrix.Cell{c.from, c.to} {
		if !(cell.Snr[line] > certain*cell.Sigma[line]) {
			return math.NaN()
		}
	}
	return stats.Decibel(c.to.Snr[line]*c.to.Floor/c.from.Snr[line]/c.from.Floor) - c.lower
}

// place gives by how much a line moved, Hz; NaN where it was not detected in both.
func (c change) place(line int) float64 { return c.to.Place[line] - c.from.Place[line] }

// isStation tells whether a line keeps its frequency as a transmitter does, and fades by itself;
// the others are lines that were heard beside it.
func (f *Finder) isStation(changes []change, line int, others []int) bool {
	if places, n := spread(changes, func(c change) float64 { return c.place(line) }); n < fewestChanges || places > crystal*f.m.Lines[line] {
		return false
	}
	levels, faded := spread(changes, func(c change) float64 { return c.level(line) })
	if faded < fewestChanges || levels < fades {
		return false
	}
	return !slices.ContainsFunc(others, func(other int) bool {
		apart, n := spread(changes, func(c change) float64 { return c.level(line) - c.level(other) })
		return other != line && 2*n >= faded && apart < together*levels
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
