package bearings

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/noise"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/strength"
)

// sources gives the pattern of each comb and of what each mains modulates, as it was measured
// while it was on: by its own power, whatever the floor does.
func (p *turns) sources() (out []result.Pattern) {
	for _, s := range p.heard {
		powers := byCell(s, p.matrix)
		t := p.series(s.Squared, func(c *matrix.Cell) (power, sigma float64) {
			sum, ok := powers[c]
			if !ok {
				return math.NaN(), 0
			}
			n := float64(sum.Readings)
			return sum.Power / n, math.Sqrt(sum.Variance) / n
		})
		pattern, ok := p.pattern(t, result.OfNoiseSource)
		if !ok || pattern.Rounds < stats.MinRounds {
			continue
		}
		pattern.Source, pattern.Spacing, pattern.Envelope = &s.ID, s.Spacing, s.Envelope
		if pattern.Null != nil && p.floor != nil {
			pattern.FloorFall = p.floor.during(t).fallAt(*pattern.Null)
		}
		out = append(out, pattern)
	}
	return out
}

// during gives the series' rounds in which all that was measured was measured of another, too.
func (t *bearingSeries) during(other *bearingSeries) *bearingSeries {
	some := *t
	some.power, some.sigma, some.floors, some.factor, some.through = nil, nil, nil, nil, nil
	for r, power := range t.power {
		on := true
		for c := range power {
			on = on && (math.IsNaN(power[c]) || !math.IsNaN(other.power[r][c]))
		}
		if on {
			some.power, some.sigma = append(some.power, power), append(some.sigma, t.sigma[r])
			some.floors, some.factor, some.through = append(some.floors, t.floors[r]), append(some.factor, t.factor[r]), append(some.through, t.through[r])
		}
	}
	return &some
}

// byCell sums up what was measured of a source while it was on, in the gain of each cell.
func byCell(s noise.Measured, m *matrix.Matrix) map[*matrix.Cell]strength.Part {
	sums := map[*matrix.Cell]strength.Part{}
	for h, found := range s.WhileOn { // in order of time: floats add up the same each time
		c := m.CellOf(h.Sweep)
		if c == nil || !m.Holds(h.Segment) {
			continue
		}
		lower, ok := input.Refer(h.Gain, c.Gain)
		if !ok || !stats.Finite(found.Power) || !stats.Finite(found.Sigma) {
			continue
		}
		scale := stats.FromDecibel(-float64(lower))
		if s.Squared {
			scale *= scale
		}
		sum := sums[c]
		sum.Join(strength.Part{Power: found.Power * scale, Variance: found.Sigma * found.Sigma * scale * scale, Readings: 1})
		sums[c] = sum
	}
	return sums
}
