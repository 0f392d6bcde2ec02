package matrix

import (
	"math"

	"nightfloor/reports/stats"
)

// guessQuiet fills in Quiet where a reading lacks it, as those of older databases do. A power of 0 or
// less was measured with no line to widen its error: there Quiet is Sigma. Elsewhere it is the line's
// usual one over all setups and rounds, of the cells that know it and of those at most Sigma strong; both
// are in units of the floor, and both fall with the root of the readings. A line that has no such cell is
// strong everywhere, where only Sigma matters: it gets that. STATISTICS.md 2.4.
func (m *Matrix) guessQuiet() {
	for line := range m.Lines {
		var usual []float64 // of one reading
		lacking := false
		m.each(line, func(c *Cell, root float64) {
			quiet := c.Quiet[line]
			if math.IsNaN(quiet) {
				lacking = true
				if c.Snr[line] <= c.Sigma[line] {
					quiet = c.Sigma[line]
				}
			}
			if !math.IsNaN(quiet) {
				usual = append(usual, quiet*root)
			}
		})
		if !lacking {
			continue
		}
		median := stats.Median(usual)
		m.each(line, func(c *Cell, root float64) {
			if !math.IsNaN(c.Quiet[line]) {
				return
			}
			c.Quiet[line] = c.Sigma[line]
			if c.Snr[line] > 0 && median/root < c.Sigma[line] {
				c.Quiet[line] = median / root
			}
		})
	}
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
