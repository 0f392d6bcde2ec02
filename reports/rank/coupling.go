package rank

import (
	"cmp"
	"math"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// leastCoupling is from how many dB on a difference between an antenna with others in place and with these removed is
// coupling: what placing it anew does is within that (PHYSICS.md 5.7). TestCouplingAtItsLimit fails when it moves.
const leastCoupling = 1.0

// coupling compares each antenna that was measured with others in place, and with these removed, within rounds;
// nil where there is no such pair. Alone are the setups without others that have none.
func (c *comparison) coupling(removed map[survey.Setup]survey.Antenna) (all []result.Coupling, alone []survey.Setup) {
	for k, without := range c.matrix.Setups {
		a, ok := removed[without]
		if !ok || c.matrix.Measured(k, c.rounds) == 0 {
			continue
		}
		before := len(all)
		for j, s := range c.matrix.Setups {
			if cmp.Or(s.State.Antenna, s.Antenna) == a.Of && s.Placement == without.Placement && s.Bearing == without.Bearing {
				all = append(all, c.coupled(j, k, a.Removed))
			}
		}
		if len(all) == before {
			alone = append(alone, without)
		}
	}
	return all, alone
}

// coupled compares setup j, with antennas in place, with setup k, without them: the powers of carriers, whatever the floor, and
// the floors less own noise, which no antenna changes.
func (c *comparison) coupled(j, k int, removed []string) result.Coupling {
	out := result.Coupling{Setup: c.matrix.Setups[j], Without: c.matrix.Setups[k], Removed: removed}
	p, sign := c.pairs[[2]int{j, k}], 1.0
	if p == nil {
		p, sign = c.pairs[[2]int{k, j}], -1
	}
	if p == nil {
		return out
	}
	change := func(values []float64, hidden float64) (mean, low, high *survey.DB) {
		m := look{}.of(p, series.Of(series.Series{Values: values, Times: p.values.Times, Stratum: p.values.Stratum, Hidden: hidden}), c.weights)
		if m == nil || m.Rounds == 0 {
			return nil, nil, nil
		}
		out.Rounds = max(out.Rounds, m.Rounds)
		if from, to, ok := m.Interval(); ok && !c.slow && m.Rounds >= stats.MinRounds {
			low, high = result.DB(from), result.DB(to)
		}
		return result.DB(m.Mean), low, high
	}
	if p.fit != nil {
		signal := c.over(j, k, func(x *matrix.Cell) float64 { return x.Floor })
		for i, advantage := range p.values.Values {
			signal[i] += sign * advantage
		}
		out.Signal, out.SignalLow, out.SignalHigh = change(signal, p.Hidden)
	}
	if !c.mostlyLimited(j) && !c.mostlyLimited(k) {
		out.Floor, out.FloorLow, out.FloorHigh = change(c.over(j, k, func(x *matrix.Cell) float64 {
			if x.IsLimited() {
				return math.NaN()
			}
			return x.External.Floor
		}), 0)
	}
	out.Coupled = isCoupling(&out)
	return out
}

// over gives by how many dB a density through setup j stands over that through setup k, by round; NaN where it is
// not known at one gain.
func (c *comparison) over(j, k int, density func(*matrix.Cell) float64) []float64 {
	x := make([]float64, len(c.rounds))
	for i, round := range c.rounds {
		x[i] = math.NaN()
		a, b := c.matrix.Cells[j][round], c.matrix.Cells[k][round]
		if a == nil || b == nil || !a.Gain.Known || !b.Gain.Known {
			continue
		}
		if lower, ok := input.Refer(a.Gain, b.Gain); ok {
			x[i] = stats.Decibel(density(a)/density(b)) - float64(lower)
		}
	}
	return x
}

// isCoupling tells whether a change of signal or floor is coupling: over leastCoupling, and told from nothing; that
// none is where both intervals lie within that; nil where the rounds do not tell.
func isCoupling(c *result.Coupling) *bool {
	within, yes, no := true, true, false
	for _, x := range []struct{ mean, low, high *survey.DB }{{c.Signal, c.SignalLow, c.SignalHigh}, {c.Floor, c.FloorLow, c.FloorHigh}} {
		switch {
		case x.low == nil || x.high == nil:
			within = false
		case math.Abs(float64(*x.mean)) > leastCoupling && (*x.low > 0 || *x.high < 0):
			return &yes
		default:
			within = within && *x.low >= -leastCoupling && *x.high <= leastCoupling
		}
	}
	if within {
		return &no
	}
	return nil
}

// couplingDoubts puts into words what the pairs tell, and that an antenna without others is not another one.
func couplingDoubts(all []result.Coupling, alone []survey.Setup) (doubts []doubt.Doubt) {
	for _, s := range alone {
		doubts = append(doubts, doubt.Doubt{Kind: doubt.CouplingAlone, About: []survey.Setup{s}})
	}
	for _, c := range all {
		with := wording.List(wording.Printables(c.Removed))
		d := doubt.Doubt{Kind: doubt.CouplingUnknown, About: []survey.Setup{c.Setup}, Figures: []any{with, c.Without}}
		if c.Signal != nil || c.Floor != nil {
			switch {
			case c.Coupled == nil:
				d.Kind = doubt.CouplingNotTold
			case *c.Coupled:
				d.Kind = doubt.Coupled
			default:
				d.Kind = doubt.NotCoupled
			}
			d.Figures = []any{with, changed(c.Signal, c.SignalLow, c.SignalHigh), changed(c.Floor, c.FloorLow, c.FloorHigh), c.Without}
		}
		doubts = append(doubts, d)
	}
	return doubts
}

// changed writes a change with its interval, as far as they are known.
func changed(mean, low, high *survey.DB) string {
	text := wording.Signed(mean, 1) + " dB"
	if mean == nil {
		return "an unknown amount"
	}
	if low != nil {
		text += " (" + wording.Interval(low, high, 1) + ")"
	}
	return text
}
