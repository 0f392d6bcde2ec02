package dsp

import "math"

// Rules for the sidebands of a carrier that is modulated by tones or hum.
const (
	sidebandReach  = 10e3 // Hz on either side
	sidebandWeaker = 5.0  // dB under the carrier, at least: modulation depth 1 gives 6
	sidebandEqual  = 1.5  // dB between the two
	rasterHz       = 5e3  // shortwave stations stand on multiples of it
	rasterNear     = 3.0  // Hz
)

// dropSidebands gives the lines without those that stand in pairs about a
// stronger one. A pair a multiple of 5 kHz away is two neighbours on the
// broadcast raster, not modulation: no audio goes there.
func dropSidebands(lines []Line) []Line {
	side := make([]bool, len(lines))
	for i := range lines {
		for j := range lines {
			away := math.Abs(lines[j].Frequency - lines[i].Frequency)
			if side[j] || away < sameLine || away > sidebandReach || onRaster(away) ||
				lines[i].Power < fromDB(sidebandWeaker)*lines[j].Power {
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

func onRaster(away float64) bool {
	return math.Abs(away-rasterHz*math.Round(away/rasterHz)) < rasterNear && away > rasterHz/2
}

// hasTwin tells whether line j has its like on the other side of line i.
func hasTwin(lines []Line, i, j int) bool {
	at := 2*lines[i].Frequency - lines[j].Frequency
	for k := range lines {
		ratio := math.Abs(10 * math.Log10(lines[k].Power/lines[j].Power))
		doubt := 4.34 * (lines[k].Sigma/lines[k].Power + lines[j].Sigma/lines[j].Power)
		if k != j && math.Abs(lines[k].Frequency-at) < sameLine && ratio < sidebandEqual+2*doubt {
			return true
		}
	}
	return false
}

// fromDB gives a power ratio.
func fromDB(db float64) float64 { return math.Pow(10, db/10) }
