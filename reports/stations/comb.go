package stations

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/noise"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

const (
	// spacingError is how far the spacing may be off, as a share: what a supply that warms up changes in 18
	// s of a visit. TestCombsThatDrift fails when it moves.
	spacingError = 1e-5
	// overComb is how far a line must stand over the mean of a comb's lines to be a station that
	// happens to stand there. Lines of one comb lie in a window of 6 dB (METHODS.md 12.7), and what
	// stands 7 dB over their median is not in the mean (12.10). TestStationAmongTheLines fails when it moves.
	overComb = 10.0 // dB
)

// A combAt tells where the lines of a comb stood in one cell, and how strong they were: sums over the
// cell's readings.
type combAt struct {
	spacing, width    float64 // Hz
	resolution        float64 // Hz, the coarsest
	power, variance   float64 // of a line, full-scale units at the cell's gain
	readings, powered float64
}

// combsOf gives by cell the combs that were measured in it while they were on, by force too.
func combsOf(m *matrix.Matrix, found *noise.Found) map[*matrix.Cell][]*combAt {
	all := map[*matrix.Cell][]*combAt{}
	for _, source := range found.Measured() {
		if source.Spacing == nil {
			continue
		}
		own := map[*matrix.Cell]*combAt{}
		for r, f := range source.WhileOn {
			c := m.CellOf(r.Sweep)
			if c == nil || !m.Holds(r.Segment) {
				continue
			}
			if own[c] == nil {
				own[c] = &combAt{}
				all[c] = append(all[c], own[c])
			}
			own[c].add(r.Reading, f, c)
		}
	}
	return all
}

func (a *combAt) add(r *survey.Reading, f *survey.Finding, c *matrix.Cell) {
	a.readings++
	a.spacing += float64(f.Spacing)
	a.width += float64(f.Width)
	a.resolution = max(a.resolution, float64(r.Resolution))
	if lower, ok := input.Refer(r.Gain, c.Gain); ok && stats.Finite(f.Power) && stats.Finite(f.Sigma) {
		scale := stats.FromDecibel(-float64(lower))
		a.powered++
		a.power += f.Power * scale
		a.variance += f.Sigma * f.Sigma * scale * scale
	}
}

// holds tells whether a frequency is that of one of the comb's lines: drift and wobble of the
// fundamental grow with the multiple.
func (a *combAt) holds(frequency float64) bool {
	spacing, width := a.spacing/a.readings, a.width/a.readings
	n := math.Round(frequency / spacing)
	return math.Abs(frequency-n*spacing) <= a.resolution+n*(width/2+spacing*spacingError)
}

// level gives the mean power of the comb's lines, or what it is under.
func (a *combAt) level() float64 {
	return max(a.power, matrix.HeardSigmas*math.Sqrt(a.variance)) / a.powered
}

// combed tells of a line whether it is one of combs: it stood at their multiples in most of the
// cells in which it was detected. Stronger tells that it stood far over their other lines
// through one of the setups.
func (f *Finder) combed(line int, rounds []int) (is, stronger bool) {
	placed, met := 0, 0
	for k := range f.m.Setups {
		var own, comb float64
		for _, n := range rounds {
			c := f.m.Cells[k][n]
			if c == nil || math.IsNaN(c.Place[line]) {
				continue
			}
			placed++
			for _, a := range f.combs[c] {
				if a.holds(c.Place[line]) {
					met++
					if a.powered > 0 {
						own, comb = own+c.Snr[line]*c.Floor, comb+a.level()
					}
					break
				}
			}
		}
		stronger = stronger || comb > 0 && stats.Decibel(own/comb) > overComb
	}
	return placed > 0 && 2*met >= placed, stronger
}
