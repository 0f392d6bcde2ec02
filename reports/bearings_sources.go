package reports

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// sources gives the pattern of each comb and each beat with the mains, of what was measured
// while it was on: by its own power, whatever the floor does.
func (p *turns) sources() (out []result.Pattern) {
	for _, s := range p.heard {
		powers := byCell(s, p.matrix)
		t := p.series(func(c *cell) (power, sigma float64) {
			sum, ok := powers[c]
			if !ok {
				return math.NaN(), 0
			}
			n := float64(sum.readings)
			return sum.power / n, math.Sqrt(sum.variance) / n
		})
		if s.Squared {
			t.squared(p.factor)
		}
		pattern, ok := p.pattern(t, result.OfNoiseSource)
		if !ok || pattern.Rounds < stats.MinRounds {
			continue
		}
		pattern.Spacing, pattern.Envelope = s.Spacing, s.Envelope
		out = append(out, pattern)
	}
	return out
}

// squared makes it a series of squares: those of powers that were brought to one gain as
// powers are.
func (t *bearingSeries) squared(factor [][]float64) {
	t.square = true
	for r := range t.power {
		for c := range t.power[r] {
			t.power[r][c] *= factor[r][c]
			t.sigma[r][c] *= factor[r][c]
		}
	}
}

// byCell sums up what was measured of a source while it was on, in the gain of each cell.
func byCell(s Measured, f *roundMatrix) map[*cell]strengthPart {
	setups, rounds := map[survey.Setup]int{}, map[input.RoundKey]int{}
	for k, setup := range f.setups {
		setups[setup] = k
	}
	for n, key := range f.rounds {
		rounds[key] = n
	}
	sums := map[*cell]strengthPart{}
	for h, found := range s.WhileOn { // in order of time: sums of floats hang on it
		if h.Segment.Name != f.segment.Name || h.Segment.Low > f.segment.Low || h.Segment.High < f.segment.High {
			continue
		}
		k, known := setups[h.sweep.Setup]
		n, there := rounds[input.RoundKey{Survey: h.sweep.Survey, Round: h.sweep.Round}]
		if !known || !there || f.cells[k][n] == nil {
			continue
		}
		c := f.cells[k][n]
		lower, ok := input.Refer(h.Gain, c.gain)
		if !ok || !stats.Finite(found.Power) || !stats.Finite(found.Sigma) {
			continue
		}
		scale := stats.FromDecibel(-float64(lower))
		if s.Squared {
			scale *= scale
		}
		sum := sums[c]
		sum.join(strengthPart{power: found.Power * scale, variance: found.Sigma * found.Sigma * scale * scale, readings: 1})
		sums[c] = sum
	}
	return sums
}
