package rank

import (
	"fmt"
	"math"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A control is a setup with a terminator at the antenna's end of the feed line. What
// it still delivers came by the feed line, the switch and other antennas' ends, or is
// the receiver's own; what an antenna delivers beyond that is the antenna's.

// plainlyAbove is from how far above its control an antenna's noise or stations are
// its own but for half a dB: 1 − 10^−1.
const plainlyAbove = 10.0 // dB

// controlled compares every control with every other setup, in some rounds.
func controlled(f *matrix.Matrix, rounds, lines []int, controls map[survey.Setup]bool) []result.Control {
	out := []result.Control{}
	for k, control := range f.Setups {
		if !controls[control] || !f.Present(k, rounds) {
			continue
		}
		for a, antenna := range f.Setups {
			if !controls[antenna] && f.Present(a, rounds) {
				out = append(out, controlAgainst(f, k, a, rounds, lines))
			}
		}
	}
	return out
}

// controlAgainst compares a control with an antenna.
func controlAgainst(f *matrix.Matrix, k, a int, rounds, lines []int) result.Control {
	c := result.Control{Setup: f.Setups[k], Against: f.Setups[a]}
	var floor float64
	control, antenna, variance := make([]float64, len(lines)), make([]float64, len(lines)), make([]float64, len(lines))
	for _, n := range rounds {
		x, y := f.Cells[k][n], f.Cells[a][n]
		if x == nil || y == nil {
			continue
		}
		lower, ok := input.Refer(x.Gain, y.Gain)
		if !ok {
			continue
		}
		c.Rounds++
		scale := stats.FromDecibel(-float64(lower))
		floor += stats.Decibel(x.Floor * scale / y.Floor)
		for i, line := range lines {
			if math.IsNaN(x.Snr[line]) || math.IsNaN(y.Snr[line]) {
				continue
			}
			control[i] += x.Snr[line] * x.Floor * scale
			sigma := x.Sigma[line] * x.Floor * scale
			variance[i] += sigma * sigma
			antenna[i] += y.Snr[line] * y.Floor
		}
	}
	if c.Rounds == 0 {
		return c
	}
	c.Floor = result.DB(floor / float64(c.Rounds))
	var under []float64
	bounds := 0
	for i := range lines {
		if antenna[i] <= 0 {
			continue
		}
		least := 2 * math.Sqrt(variance[i])
		if control[i] < least {
			bounds++
		}
		under = append(under, stats.Decibel(max(control[i], least)/antenna[i]))
	}
	if len(under) > 0 {
		slices.Sort(under)
		c.Carriers, c.Bound = result.DB((under[(len(under)-1)/2]+under[len(under)/2])/2), 2*bounds > len(under)
	}
	return c
}

// controlDoubts says what controls leave of the ranking: by what its setups can be
// told apart at all.
func controlDoubts(controls []result.Control) []string {
	var doubts []string
	for _, c := range controls {
		switch {
		case c.Rounds == 0:
			doubts = append(doubts, fmt.Sprintf("%s and %s have no round in common at gains that compare: what is the feed line's of it is not known", wording.Setup(c.Setup, wording.SetupRoom), wording.Setup(c.Against, wording.SetupRoom)))
			continue
		case c.Floor != nil && *c.Floor > -plainlyAbove:
			doubts = append(doubts, fmt.Sprintf("noise through %s is only %s dB under that through %s: part of that floor is not the antenna's", wording.Setup(c.Setup, wording.SetupRoom), wording.Number(-float64(*c.Floor), 1), wording.Setup(c.Against, wording.SetupRoom)))
		}
		if c.Carriers != nil && !c.Bound && *c.Carriers > -plainlyAbove {
			doubts = append(doubts, fmt.Sprintf("stations come through %s only %s dB weaker than through %s: by feed line or switch, and not by the antenna", wording.Setup(c.Setup, wording.SetupRoom), wording.Number(-float64(*c.Carriers), 1), wording.Setup(c.Against, wording.SetupRoom)))
		}
	}
	return append(doubts, isolation(controls)...)
}

// isolation says, for each control, how weak stations come through it against the
// setup that hears them best: nothing weaker can be told from it.
func isolation(controls []result.Control) []string {
	best := map[survey.Setup]result.Control{}
	var order []survey.Setup
	for _, c := range controls {
		if c.Carriers == nil {
			continue
		}
		had, ok := best[c.Setup]
		if !ok {
			order = append(order, c.Setup)
		}
		if !ok || *c.Carriers < *had.Carriers {
			best[c.Setup] = c
		}
	}
	var texts []string
	for _, setup := range order {
		c, least := best[setup], ""
		if c.Bound {
			least = "at least "
		}
		texts = append(texts, fmt.Sprintf("through %s stations come %s%s dB weaker than through %s: a setup, a null or a rejection beyond that is the feed line's or the switch's", wording.Setup(setup, wording.SetupRoom), least, wording.Number(-float64(*c.Carriers), 1), wording.Setup(c.Against, wording.SetupRoom)))
	}
	return texts
}
