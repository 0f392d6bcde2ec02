package lines

import "math"

// What tells the sidebands of a carrier that is modulated by tones or hum. The
// phases of a pair add up to twice the carrier's and a constant, so that their
// frequencies are its mirror images exactly; of two stations, each off its
// frequency by hertz, the sum turns. A tenth of a hertz is 18° in half a second.
const (
	SidebandReach      = 4980.0 // Hz on either side: audio ends at 4.5 kHz; at 5 kHz, less two tolerances of 10 Hz, is the next slot of the raster
	sidebandTolerance  = 0.1    // Hz, what the frequencies may be off beside noise and fading
	sidebandMinDown    = 5.0    // dB under the carrier in the pair's geometric mean: modulation depth 1 gives 6
	sidebandMaxUnequal = 6.0    // dB between the two: fading is selective
)

// dropSidebands gives the lines without those that stand in pairs about a
// stronger one.
func dropSidebands(lines []Line) []Line {
	side := make([]bool, len(lines))
	for i := range lines {
		for j := range lines {
			away := math.Abs(lines[j].Frequency - lines[i].Frequency)
			if side[j] || away < sameLine || away > SidebandReach || lines[j].Power >= lines[i].Power {
				continue
			}
			side[j] = hasTwin(lines, i, j)
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

// hasTwin tells whether line j has its like on the other side of line i.
func hasTwin(lines []Line, i, j int) bool {
	for k := range lines {
		if k != j && k != i && isSidebandPair(lines[i], lines[j], lines[k]) {
			return true
		}
	}
	return false
}

// isSidebandPair tells whether lines a and b are the two sidebands of a carrier.
func isSidebandPair(carrier, a, b Line) bool {
	turn := a.Frequency + b.Frequency - 2*carrier.Frequency
	doubt := math.Sqrt(a.doubt*a.doubt + b.doubt*b.doubt + 4*carrier.doubt*carrier.doubt)
	if math.Abs(turn) > sidebandTolerance+3*min(doubt, sameLine/3) || a.Power <= 0 || b.Power <= 0 {
		return false
	}
	unequal := math.Abs(10 * math.Log10(a.Power/b.Power))
	doubtDB := 4.34 * (a.Sigma/a.Power + b.Sigma/b.Power)
	weaker := 10*math.Log10(carrier.Power) - 5*math.Log10(a.Power) - 5*math.Log10(b.Power)
	return unequal < sidebandMaxUnequal+2*doubtDB && weaker > sidebandMinDown
}
