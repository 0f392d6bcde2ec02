package lines

import (
	"math"
	"slices"

	"nightfloor/dsp/stat"
)

// Sidebands of a carrier that is modulated by a tone or hum, METHODS.md 6.8. The phases of
// the pair add up to twice the carrier's and a constant, so that their frequencies lie
// exactly on either side of it. Two stations are each off their frequencies by hertz, up to
// 10 Hz [RR, Appendix 2 of the ITU Radio Regulations], and the sum of their phases turns.
const (
	SidebandReach      = 4980.0 // Hz on either side: at 5 kHz, less two tolerances of 10 Hz, stands the next station, PHYSICS.md 2.2 (TestSidebandRules)
	sidebandTolerance  = 0.1    // Hz in the sum of the frequencies, beside their errors: 18° in half a second (TestSidebandRules)
	sidebandMinDown    = 5.0    // dB, geometric mean of the pair under the carrier; modulation of depth 1 gives 6 (TestSidebandRules)
	sidebandMaxUnequal = 6.0    // dB between the two, for fading is selective; chosen (TestSidebandRules)
)

// dropSidebands removes the lines that stand in a pair about a stronger one.
func dropSidebands(lines []Line) []Line {
	side := make([]bool, len(lines))
	for i := range lines {
		for j := range lines {
			away := math.Abs(lines[j].Frequency - lines[i].Frequency)
			if side[j] || away < sameLine || away > SidebandReach || lines[j].Power >= lines[i].Power {
				continue
			}
			side[j] = slices.ContainsFunc(lines, func(twin Line) bool {
				return twin != lines[i] && twin != lines[j] && isSidebandPair(lines[i], lines[j], twin)
			})
		}
	}
	kept := lines[:0]
	for j := range lines {
		if !side[j] {
			kept = append(kept, lines[j])
		}
	}
	return kept
}

// isSidebandPair reports whether lines a and b are the two sidebands of a carrier.
func isSidebandPair(carrier, a, b Line) bool {
	turn := a.Frequency + b.Frequency - 2*carrier.Frequency
	doubt := math.Sqrt(a.doubt*a.doubt + b.doubt*b.doubt + 4*carrier.doubt*carrier.doubt)
	if math.Abs(turn) > sidebandTolerance+3*min(doubt, sameLine/3) || a.Power <= 0 || b.Power <= 0 {
		return false
	}
	unequal := math.Abs(stat.DB(a.Power / b.Power))
	doubtDB := 10 / math.Ln10 * (a.Sigma/a.Power + b.Sigma/b.Power)
	down := stat.DB(carrier.Power / math.Sqrt(a.Power*b.Power))
	return unequal < sidebandMaxUnequal+2*doubtDB && down > sidebandMinDown
}
