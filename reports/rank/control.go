package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

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

// A control is a setup with a terminator at the antenna's end of the feed line, or with a dummy in place of an
// antenna's element. What it still delivers came by the feed line, the switch and other antennas' ends, or is
// the receiver's or the amplifier's own; what an antenna delivers beyond that is the antenna's. A terminator at the
// receiver's input tells of none of these but the receiver, whose noise is then taken out of the others.

// controlled compares every control with the setups that it tells of, in some rounds: a dummy with its own antenna,
// whose amplifier it has, a terminator with all.
func controlled(m *matrix.Matrix, rounds, lines []int, antennas map[survey.Setup]survey.Antenna) []result.Control {
	out := []result.Control{}
	for k, setup := range m.Setups {
		control := antennas[setup]
		if !control.Control() || control.AtReceiver() || m.Measured(k, rounds) == 0 {
			continue
		}
		for a, other := range m.Setups {
			antenna := antennas[other]
			if antenna.Control() || m.Measured(a, rounds) == 0 || control.Kind == survey.KindReplaced && !control.Serves(antenna) {
				continue
			}
			c := controlAgainst(m, k, a, rounds, lines)
			if control.Kind == survey.KindReplaced {
				c.Element = true
			} else {
				c.Ingress, c.IngressBound = ingress(m, k, a, rounds)
			}
			out = append(out, c)
		}
	}
	return out
}

// ingress gives the noise that comes by a terminator's feed line, against that through an antenna: what the terminator
// shows less the receiver's own noise, as powers over common rounds, no less than Student's t of its standard error, by
// the scatter over rounds and that of own noise. Both are behind a terminator, so that kT0 is in both. The antenna's is
// less its own noise, too, where that is known.
func ingress(m *matrix.Matrix, k, a int, rounds []int) (under *survey.DB, bound bool) {
	var brought []float64
	var antenna, sigma float64
	for _, n := range rounds {
		x, y := m.Cells[k][n], m.Cells[a][n]
		if x == nil || y == nil || math.IsNaN(x.External.Own) {
			continue
		}
		lower, ok := input.Refer(x.Gain, y.Gain)
		if !ok {
			continue
		}
		scale := stats.FromDecibel(-float64(lower))
		brought = append(brought, (x.Floor-x.External.Own)*scale)
		antenna, sigma = antenna+y.External.Floor, sigma+x.External.OwnSigma*scale
	}
	n := float64(len(brought))
	if n < 2 {
		return nil, false
	}
	mean, variance := stats.MeanVariance(brought)
	least := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile(0.975) * math.Hypot(math.Sqrt(variance/n), sigma/n)
	return result.DB(stats.Decibel(max(mean, least) / (antenna / n))), mean < least
}

// floorAt gives what a control's floor is at an antenna's gain, in the antenna's units. At another gain than its own the
// receiver's noise is not what it was, times the gain: where it is known at both it is put in place of that.
func floorAt(control, antenna *matrix.Cell, lower survey.DB) (floor float64, ok bool) {
	scale := stats.FromDecibel(-float64(lower))
	if input.SameGain(lower) {
		return control.Floor * scale, true
	}
	brought := max(0, control.Floor-control.External.Receiver) * scale
	floor = brought + antenna.External.Receiver
	return floor, floor > 0 // not NaN, where either is not known
}

// controlAgainst compares a control with an antenna.
func controlAgainst(m *matrix.Matrix, k, a int, rounds, lines []int) result.Control {
	c := result.Control{Setup: m.Setups[k], Against: m.Setups[a]}
	var floor float64
	var known, limited int
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
		if c.Rounds++; x.IsLimited() {
			limited++
		}
		scale := stats.FromDecibel(-float64(lower))
		if at, ok := floorAt(x, y, lower); ok {
			floor, known = floor+stats.Decibel(at/y.Floor), known+1
		}
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
	if known > 0 {
		c.Floor, c.FloorBound = result.DB(floor/float64(known)), 2*limited > c.Rounds
	}
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
	doubts = append(doubts, controlsAtOtherGains(controls)...)
	noisy := func(c result.Control) *survey.DB {
		if c.Floor == nil || *c.Floor <= -stations.ControlMargin {
			return nil
		}
		return minus(c.Floor)
	}
	for _, c := range best(controls, noisy) {
		kind := doubt.ControlNoise
		if c.Element {
			kind = doubt.AmplifierNoise
		}
		doubts = append(doubts, doubt.New(kind, c.Setup, under(c.Floor), c.Against, rangeOver(c.Setup, controls, noisy)))
	}
	doubts = append(doubts, controlsApart(controls)...)
	for _, c := range best(controls, poorly) {
		doubts = append(doubts, controlStations(c, rangeOver(c.Setup, controls, poorly)))
	}
	doubts = append(doubts, ownFloors(controls)...)
	for _, c := range best(controls, func(c result.Control) *survey.DB { return c.Carriers }) {
		kind := doubt.ControlLimit
		if c.Bound {
			kind = doubt.ControlLimitBound
		}
		doubts = append(doubts, doubt.New(kind, c.Setup, under(c.Carriers), c.Against))
	}
	for _, c := range best(controls, func(c result.Control) *survey.DB { return minus(c.Ingress) }) {
		kind := doubt.Ingress
		if c.IngressBound {
			kind = doubt.IngressBound
		}
		doubts = append(doubts, doubt.New(kind, c.Setup, under(c.Ingress), c.Against))
	}
	return doubts
}

// ownFloors says of terminators that show own noise by how much at least what comes by their feed lines stands under the
// antennas, where none at the receiver's input tells that more closely: under each of a few, else under that which it is nearest to.
func ownFloors(controls []result.Control) (doubts []doubt.Doubt) {
	of := map[survey.Setup][]result.Control{}
	var order []survey.Setup
	for _, c := range controls {
		if c.Element || c.Ingress != nil || !c.FloorBound || *c.Floor > -stations.ControlMargin {
			continue
		}
		if of[c.Setup] == nil {
			order = append(order, c.Setup)
		}
		of[c.Setup] = append(of[c.Setup], c)
	}
	for _, setup := range order {
		all, under := of[setup], []string{}
		slices.SortStableFunc(all, func(a, b result.Control) int { return cmp.Compare(*b.Floor, *a.Floor) })
		more := len(all) > mostNamed
		if more {
			all = all[:1]
		}
		for _, c := range all {
			under = append(under, wording.Number(-float64(*c.Floor), 1)+" dB under that through "+c.Against.Short(wording.SentenceRoom))
		}
		if more {
			under = append(under, fmt.Sprintf("more under that through %d others", len(of[setup])-1))
		}
		doubts = append(doubts, doubt.New(doubt.ControlOwnNoise, setup, wording.List(under)))
	}
	return doubts
}

// controlsApart tells of each control with which antennas it does not compare.
func controlsApart(controls []result.Control) (doubts []doubt.Doubt) {
	for _, c := range controls {
		if c.Rounds > 0 {
			continue
		}
		i := slices.IndexFunc(doubts, func(d doubt.Doubt) bool { return d.Figures[0] == c.Setup })
		if i < 0 {
			i, doubts = len(doubts), append(doubts, doubt.New(doubt.ControlApart, c.Setup))
		}
		doubts[i].About = append(doubts[i].About, c.Against)
	}
	return doubts
}

// controlsAtOtherGains tells of each control at whose antennas' gains its noise is not known.
func controlsAtOtherGains(controls []result.Control) (doubts []doubt.Doubt) {
	of := map[survey.Setup][]string{}
	var order []survey.Setup
	for _, c := range controls {
		if c.Rounds == 0 || c.Floor != nil {
			continue
		}
		if of[c.Setup] == nil {
			order = append(order, c.Setup)
		}
		of[c.Setup] = append(of[c.Setup], c.Against.Short(wording.SentenceRoom))
	}
	for _, setup := range order {
		doubts = append(doubts, doubt.New(doubt.ControlAtOtherGain, setup, wording.List(of[setup])))
	}
	return doubts
}

// rangeOver gives the least and the most of a figure over the setups for which a control has one; nothing for one of them.
func rangeOver(control survey.Setup, controls []result.Control, figure func(result.Control) *survey.DB) doubt.Doubt {
	var all []survey.DB
	for _, c := range controls {
		if x := figure(c); c.Setup == control && x != nil {
			all = append(all, *x)
		}
	}
	if len(all) < 2 {
		return doubt.Doubt{}
	}
	return doubt.New(doubt.ControlRange, wording.Number(float64(slices.Min(all)), 1), wording.Number(float64(slices.Max(all)), 1), doubt.Count{N: len(all), Noun: "setup"})
}

// controlStations tells of the stations that a control hears, against the setup under which it hears them the least.
func controlStations(worst result.Control, span doubt.Doubt) doubt.Doubt {
	i := worst.PoorIsolation
	kind, figures := doubt.ControlStations, []any{doubt.Count{N: worst.Poor, Noun: "carrier"}, worst.Setup, wording.Figure(i.DB, 1), worst.Against, span}
	if i.Low == nil {
		kind = doubt.ControlAsStrong
	} else {
		figures = append(figures, wording.Signed(i.Low, 1), wording.Signed(i.High, 1))
	}
	return doubt.New(kind, figures...)
}

// poorly gives the isolation of what a control hears too well.
func poorly(c result.Control) *survey.DB {
	if c.PoorIsolation == nil {
		return nil
	}
	return c.PoorIsolation.DB
}

func minus(x *survey.DB) *survey.DB {
	if x == nil {
		return nil
	}
	return result.DB(-float64(*x))
}

// best gives, for each control, the comparison in which a figure is least: with the setup that hears stations best,
// since nothing weaker than through the control can be told from it.
func best(controls []result.Control, figure func(result.Control) *survey.DB) (found []result.Control) {
	for _, c := range controls {
		if figure(c) == nil {
			continue
		}
		i := slices.IndexFunc(found, func(b result.Control) bool { return b.Setup == c.Setup })
		if i < 0 {
			found = append(found, c)
		} else if *figure(c) < *figure(found[i]) {
			found[i] = c
		}
	}
	return found
}
