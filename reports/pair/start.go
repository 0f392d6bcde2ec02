package pair

import (
	"math"

	"nightfloor/reports/stats"
)

// The model begins with these where the cells do not tell; where it ends does not hang on them.
const (
	firstScatter = 16.0 // dB²
	firstFading  = 25.0 // dB²
	firstDepth   = -3.0 // dB over the unit, of a carrier that is weak throughout

	leastShifting = 0.1 // dB²
)

// start takes medians of what is strong.
func (f *fit) start() {
	f.across, f.fading = usualAcross*usualAcross, firstFading
	strong := func(x *cell) float64 {
		if !x.strong() {
			return math.NaN()
		}
		return x.diff
	}
	f.medians((*cell).ofCarrier, strong)
	var known []float64
	for c := range f.carriers {
		if m := &f.carriers[c]; stats.Finite(m.total) {
			known = append(known, m.total)
		}
	}
	middle := finiteOr(stats.Median(known), 0)
	for c := range f.carriers {
		f.carriers[c].diff = finiteOr(f.carriers[c].total, middle)
	}
	f.medians((*cell).ofRound, func(x *cell) float64 { return strong(x) - x.carrier.diff })
	for n := range f.rounds {
		m := &f.rounds[n]
		if f.shifts() {
			m.diff = finiteOr(m.total, 0)
		}
		f.shifting += m.diff * m.diff / float64(f.present)
	}
	f.shifting = max(leastShifting, f.shifting)
	var away []float64
	for i := range f.cells {
		if x := &f.cells[i]; x.strong() {
			away = append(away, x.diff-x.expected())
		}
	}
	spread := stats.Spread(away)
	f.scatter = finiteOr(max(0.25, spread*spread), firstScatter)
	f.startLevels()
}

// startLevels takes medians of levels that are strong through one of the two at least.
func (f *fit) startLevels() {
	f.medians((*cell).ofCarrier, (*cell).firstLevel)
	units := make(map[*marginal]float64)
	for i := range f.cells {
		x := &f.cells[i]
		units[x.carrier] += (x.sides[0].unit + x.sides[1].unit) / 2 / float64(x.carrier.measured)
	}
	for c := range f.carriers {
		m := &f.carriers[c]
		m.level = finiteOr(m.total, units[m]+firstDepth)
	}
	f.medians((*cell).ofRound, func(x *cell) float64 { return x.firstLevel() - x.carrier.level })
	for n := range f.rounds {
		f.rounds[n].level = finiteOr(f.rounds[n].total, 0)
	}
}

// firstLevel gives the mean of both levels, one of which may be weak; NaN where both are.
func (x *cell) firstLevel() float64 {
	a, b := &x.sides[0], &x.sides[1]
	switch {
	case x.strong():
		return x.mean
	case a.strong:
		return a.known.mean() - x.carrier.diff/2
	case b.strong:
		return b.known.mean() + x.carrier.diff/2
	}
	return math.NaN()
}

// medians puts into the total of each marginal the median of a figure that not all of its cells
// have; NaN where none has.
func (f *fit) medians(of func(*cell) *marginal, figure func(*cell) float64) {
	values := make(map[*marginal][]float64)
	for i := range f.cells {
		x := &f.cells[i]
		if v := figure(x); stats.Finite(v) {
			values[of(x)] = append(values[of(x)], v)
		}
	}
	for _, all := range [][]marginal{f.carriers, f.rounds} {
		for i := range all {
			all[i].total = stats.Median(values[&all[i]])
		}
	}
}

func finiteOr(x, otherwise float64) float64 {
	if stats.Finite(x) {
		return x
	}
	return otherwise
}
