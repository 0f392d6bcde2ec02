package stations

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stats"
)

// ControlMargin is how far under an antenna's noise, or its lines, a control's must stand for them to be the
// antenna's own to 0.46 dB, −10·log10(1 − 10^−1): what comes by the feed line, or is the receiver's, is then
// under a tenth of it (STATISTICS.md 5.6). TestControlHearsItToo, TestControls and TestControlsAtTheirEnds
// fail when it moves.
const ControlMargin = 10.0 // dB

// controlled tells whether a control hears a line nearly as well as any antenna does, in rounds and at
// gains in which they compare.
func (f *Finder) controlled(line int, rounds []int) bool {
	heard, best := false, math.Inf(-1) // best: antenna over control, dB
	for k, control := range f.m.Setups {
		if !f.controls[control] {
			continue
		}
		for a, antenna := range f.m.Setups {
			if f.controls[antenna] {
				continue
			}
			if over, ok := f.over(line, k, a, rounds); ok {
				heard, best = true, max(best, over)
			}
		}
	}
	return heard && best < ControlMargin
}

// over tells how far a line stands through an antenna over what it is through a control; ok is false
// where the control does not hear it.
func (f *Finder) over(line, control, antenna int, rounds []int) (dB float64, ok bool) {
	var under, over, variance float64
	for _, n := range rounds {
		x, y := f.m.Cells[control][n], f.m.Cells[antenna][n]
		if x == nil || y == nil || math.IsNaN(x.Snr[line]) || math.IsNaN(y.Snr[line]) {
			continue
		}
		lower, ok := input.Refer(x.Gain, y.Gain)
		if !ok {
			continue
		}
		scale := x.Floor * stats.FromDecibel(-float64(lower))
		sigma := x.Sigma[line] * scale
		under, over, variance = under+x.Snr[line]*scale, over+y.Snr[line]*y.Floor, variance+sigma*sigma
	}
	if !(under > matrix.HeardSigmas*math.Sqrt(variance)) {
		return 0, false
	}
	return stats.Decibel(max(over, 0) / under), true // −∞ where the antenna hears none
}
