package rank

import (
	"math"
	"slices"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/isolation"
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
	ratios := make([]isolation.Ratio, len(lines))
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
			ratios[i].Add(x.Snr[line]*x.Floor*scale, x.Sigma[line]*x.Floor*scale, y.Snr[line]*y.Floor)
		}
	}
	if c.Rounds == 0 {
		return c
	}
	c.Floor = result.DB(floor / float64(c.Rounds))
	var under, poor []float64
	bounds := 0
	for i := range ratios {
		at := ratios[i].Isolation()
		if at == nil {
			continue
		}
		if at.Bound {
			bounds++
		}
		under = append(under, -float64(*at.DB))
		if at.Poor {
			poor = append(poor, float64(*at.DB))
		}
	}
	if len(under) > 0 {
		c.Carriers, c.Bound = result.DB(stats.Median(under)), 2*bounds > len(under)
		c.Isolation = isolation.Of(-float64(*c.Carriers), c.Bound)
	}
	if c.Poor = len(poor); c.Poor > 0 {
		c.PoorIsolation = isolation.Of(stats.Median(poor), false)
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
		if i := c.PoorIsolation; i != nil {
			kind, errors := doubt.ControlStations, []any{doubt.Count{N: c.Poor, Noun: "carrier"}, c.Setup, wording.Figure(i.DB, 1), c.Against}
			if i.Low == nil {
				kind = doubt.ControlAsStrong
			} else {
				errors = append(errors, wording.Signed(i.Low, 1), wording.Signed(i.High, 1))
			}
			doubts = append(doubts, doubt.New(kind, errors...))
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
