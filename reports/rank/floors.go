package rank

import (
	"math"

	"nightfloor/reports/doubt"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
)

// A floors is how the floor through a setup stands against that through another.
type floors struct {
	fit    *series.Fit   // of the difference in dB, in the strata of the advantage; nil where it is not known
	values series.Series // that is fitted
	why    doubt.Doubt   // it is not known
	left   int           // rounds left out since one of both shows the receiver's own noise
	blind  int           // rounds left out since the gain of one of both is not known
	step   float64       // standard error of the measured step where the gains of both differ; 0 where they do not
}

// floorsOf compares the floors of two setups, which needs gains that are known against each other, and
// readings of which most show more than the receiver's own noise.
func (c *comparison) floorsOf(k, j int, like series.Series) (f floors) {
	if c.mostlyLimited(k) || c.mostlyLimited(j) {
		return floors{why: doubt.New(doubt.LimitedFloors)}
	}
	x, known := make([]float64, len(c.rounds)), 0
	for i, round := range c.rounds {
		x[i] = math.NaN()
		a, b := c.matrix.Cells[k][round], c.matrix.Cells[j][round]
		switch {
		case a == nil || b == nil:
			continue
		case a.IsLimited() || b.IsLimited():
			f.left++
			continue
		case !a.Gain.Known || !b.Gain.Known:
			f.blind++
			continue
		}
		offset, ok := a.Gain.Comparable(b.Gain)
		if !ok {
			return floors{why: doubt.New(doubt.UnknownGain, advice(false))}
		}
		if a.Gain != b.Gain {
			f.step = max(f.step, math.Hypot(float64(a.Step), float64(b.Step)))
		}
		x[i] = stats.Decibel(a.Floor/b.Floor) - float64(offset)
		known++
	}
	switch {
	case known == 0 && f.blind > 0:
		return floors{why: doubt.New(doubt.UnknownGain, advice(true))}
	case known == 0:
		return floors{why: doubt.New(doubt.LimitedFloors)}
	}
	f.values = series.Series{Values: x, Times: like.Times, Stratum: like.Stratum}
	f.fit = series.Of(f.values)
	return f
}

// advice says what to do about gains that are not known at all; nothing about steps between
// those that are.
func advice(unknown bool) (d doubt.Doubt) {
	if unknown {
		d.Kind = doubt.GiveGain
	}
	return d
}

// signals gives the fit of the advantage in the rounds of which the change of floor is, so that the change of
// signal is of these rounds, too; nil where it would mix different ones.
func (p *pairing) signals() *series.Fit {
	if p.fit == nil || p.floors.left > 0 {
		return nil
	}
	if p.floors.blind == 0 {
		return p.fit
	}
	s := p.values
	s.Values = make([]float64, len(s.Values))
	for i, y := range p.values.Values {
		s.Values[i] = y + 0*p.floors.values.Values[i] // NaN where the floor is not known
	}
	return series.Of(s)
}

// mostlyLimited tells whether most of the setup's readings show the receiver's own
// noise: its floor is then an upper bound, by which nothing is ranked.
func (c *comparison) mostlyLimited(k int) bool {
	limited, readings := 0, 0
	for _, round := range c.rounds {
		if cell := c.matrix.Cells[k][round]; cell != nil {
			limited, readings = limited+cell.Limited, readings+cell.Readings
		}
	}
	return 2*limited > readings
}
