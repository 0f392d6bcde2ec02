package rank

import (
	"math"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/stations"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A control is a setup with a terminator at the antenna's end of the feed line. What
// it still delivers came by the feed line, the switch and other antennas' ends, or is
// the receiver's own; what an antenna delivers beyond that is the antenna's.

// controlled compares every control with every other setup, in some rounds.
func controlled(m *matrix.Matrix, rounds, lines []int, controls map[survey.Setup]bool) []result.Control {
	out := []result.Control{}
	for k, control := range m.Setups {
		if !controls[control] || m.Measured(k, rounds) == 0 {
			continue
		}
		for a, antenna := range m.Setups {
			if !controls[antenna] && m.Measured(a, rounds) > 0 {
				out = append(out, controlAgainst(m, k, a, rounds, lines))
			}
		}
	}
	return out
}

// controlAgainst compares a control with an antenna.
func controlAgainst(m *matrix.Matrix, k, a int, rounds, lines []int) result.Control {
	c := result.Control{Setup: m.Setups[k], Against: m.Setups[a]}
	var floor float64
	control, antenna, variance := make([]float64, len(lines)), make([]float64, len(lines)), make([]float64, len(lines))
	for _, n := range rounds {
		x, y := m.Cells[k][n], m.Cells[a][n]
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
		c.Carriers, c.Bound = result.DB(stats.Median(under)), 2*bounds > len(under)
	}
	return c
}

// controlDoubts says what controls leave of the ranking: by what its setups can be
// told apart at all.
func controlDoubts(controls []result.Control) (doubts []doubt.Doubt) {
	under := func(x *survey.DB) string { return wording.Number(-float64(*x), 1) }
	for _, c := range controls {
		if c.Rounds == 0 {
			doubts = append(doubts, doubt.New(doubt.ControlApart, c.Setup, c.Against))
			continue
		}
		if *c.Floor > -stations.ControlMargin {
			doubts = append(doubts, doubt.New(doubt.ControlNoise, c.Setup, under(c.Floor), c.Against))
		}
		if c.Carriers != nil && !c.Bound && *c.Carriers > -stations.ControlMargin {
			doubts = append(doubts, doubt.New(doubt.ControlStations, c.Setup, under(c.Carriers), c.Against))
		}
	}
	for _, c := range best(controls) {
		kind := doubt.ControlLimit
		if c.Bound {
			kind = doubt.ControlLimitBound
		}
		doubts = append(doubts, doubt.New(kind, c.Setup, under(c.Carriers), c.Against))
	}
	return doubts
}

// best gives, for each control, the comparison with the setup that hears stations best:
// nothing weaker than through the control can be told from it.
func best(controls []result.Control) (found []result.Control) {
	for _, c := range controls {
		if c.Carriers == nil {
			continue
		}
		i := slices.IndexFunc(found, func(b result.Control) bool { return b.Setup == c.Setup })
		if i < 0 {
			found = append(found, c)
		} else if *c.Carriers < *found[i].Carriers {
			found[i] = c
		}
	}
	return found
}
