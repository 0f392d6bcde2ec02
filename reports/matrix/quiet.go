package matrix

import (
	"math"

	"nightfloor/reports/stats"
)

// guessQuiet fills in Quiet where a reading lacks it, as those of older databases do. A power of 0 or
// less was measured with no line to widen its error: there Quiet is Sigma. Elsewhere it is the line's
// usual one over all setups and rounds where at most Sigma was heard (lines that were detected have
// another, since they were measured otherwise): it is in units of the floor, and falls with the root of
// the readings. A line that has no such cell is strong everywhere: it gets what Sigma and the others'
// Alpha give, Sigma itself where no other tells Alpha. STATISTICS.md 2.4.
func (m *Matrix) guessQuiet() {
	var strong []int
	for line := range m.Lines {
		var usual []float64 // of one reading
		lacking := false
		m.each(line, func(c *Cell, root float64) {
			quiet := c.Quiet[line]
			if math.IsNaN(quiet) {
				lacking, quiet = true, c.Sigma[line]
			}
			if c.Snr[line] <= c.Sigma[line] {
				usual = append(usual, quiet*root)
			}
		})
		switch median := stats.Median(usual); {
		case lacking && len(usual) == 0:
			strong = append(strong, line)
		case lacking:
			m.fill(line, func(snr, sigma, root float64) float64 {
				if snr <= 0 {
					return sigma
				}
				return min(sigma, median/root)
			})
		}
	}
	alpha := m.Alpha()
	for _, line := range strong {
		m.fill(line, func(snr, sigma, _ float64) float64 {
			return (math.Hypot(alpha*snr, 2*sigma) - alpha*snr) / 2
		})
	}
}

// fill gives a line what it lacks of Quiet.
func (m *Matrix) fill(line int, quiet func(snr, sigma, root float64) float64) {
	m.each(line, func(c *Cell, root float64) {
		if math.IsNaN(c.Quiet[line]) {
			c.Quiet[line] = quiet(c.Snr[line], c.Sigma[line], root)
		}
	})
}

// each gives all cells in which a line was measured, with the root of the number of readings.
func (m *Matrix) each(line int, do func(c *Cell, root float64)) {
	for _, cells := range m.Cells {
		for _, c := range cells {
			if c != nil && c.times[line] > 0 {
				do(c, math.Sqrt(float64(c.times[line])))
			}
		}
	}
}

// tellingPower is from how many times Quiet on a power tells Alpha: there the line makes most of the
// variance, 3 parts of 4 with an Alpha of 0.2. TestPowerThatTellsAlpha fails when it moves.
const tellingPower = 16

// Alpha gives by how much lines widen their own errors: the variance of an SNR is Quiet²·(1 + Alpha·SNR/Quiet),
// of the noise by itself and of noise times line (METHODS.md 6.5). It is the median over the cells that are
// strong enough to tell; 0 where none is, or where nothing is known but Sigma.
func (m *Matrix) Alpha() float64 {
	var all []float64
	for _, cells := range m.Cells {
		for _, c := range cells {
			if c == nil {
				continue
			}
			for line, quiet := range c.Quiet {
				u, wider := c.Snr[line]/quiet, c.Sigma[line]/quiet
				if u > tellingPower && wider > 1 { // neither holds of NaN
					all = append(all, (wider*wider-1)/u)
				}
			}
		}
	}
	if len(all) == 0 {
		return 0
	}
	return stats.Median(all)
}
