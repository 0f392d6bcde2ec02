package pair

import "math"

const (
	// strayShare is how often the difference of a cell strays, and strayTimes how many times wider
	// such scatter. Chosen (STATISTICS.md 3.3).
	strayShare = 0.03
	strayTimes = 4.0
	// usualAcross is by how many dB carriers differ where few tell; it counts as usualWeight of
	// them. Chosen (STATISTICS.md 3.5).
	usualAcross, usualWeight = 3.0, 4.0
	// leastFading is the variance of levels at least: less is an accident of a few rounds.
	leastFading = 1.0 // dB²
	// The fit has settled when no carrier's difference moves by this, dB.
	settled   = 0.01
	mostTurns = 25
)

// expected gives the difference that carrier and round let expect in a cell.
func (x *cell) expected() float64 { return x.carrier.diff + x.round.diff }

// turn takes the cells by the model, then the model by the cells, and gives by how many dB the
// difference of a carrier moved at most.
func (f *fit) turn() (moved float64) {
	for i := range f.cells {
		f.cells[i].judge(f)
	}
	before := make([]float64, len(f.carriers))
	for c := range before {
		before[c] = f.carriers[c].diff
	}
	f.differences()
	f.newScatter()
	f.newAcross()
	f.levels()
	for c, b := range before {
		moved = max(moved, math.Abs(f.carriers[c].diff-b))
	}
	return moved
}

// judge finds the difference of a cell and its weight.
func (x *cell) judge(f *fit) {
	x.info = 1
	if !x.strong() {
		x.expect(f)
		x.info = min(1, max(1e-4, 1-x.vDiff/f.scatter))
	}
	away := x.diff - x.expected()
	z := away * away / f.scatter
	const wide = 1 / (strayTimes * strayTimes)
	in, out := (1-strayShare)*math.Exp(-z/2), strayShare/strayTimes*math.Exp(-z/2*wide)
	x.regular = 0
	if z < 1000 {
		x.regular = in / (in + out)
	}
	x.weight = x.there * (x.regular + (1-x.regular)*wide) * x.info
	x.value = x.expected() + away/x.info
}

// byCarrier sums a figure of the cells by carriers.
func (f *fit) byCarrier(figure func(*cell) (weight, value float64)) {
	clearSums(f.carriers)
	for i := range f.cells {
		x := &f.cells[i]
		x.carrier.add(figure(x))
	}
}

// byRound sums a figure of the cells by rounds.
func (f *fit) byRound(figure func(*cell) (weight, value float64)) {
	clearSums(f.rounds)
	for i := range f.cells {
		x := &f.cells[i]
		x.round.add(figure(x))
	}
}

func clearSums(all []marginal) {
	for i := range all {
		all[i].weight, all[i].total = 0, 0
	}
}

func (m *marginal) add(weight, value float64) {
	m.weight, m.total = m.weight+weight, m.total+weight*value
}

// differences fits the carriers' differences and the rounds' shifts, both random, and the variance
// of shifts.
func (f *fit) differences() {
	for range 3 {
		lean, middle := f.scatter/f.across, f.advantage()
		f.byCarrier(func(x *cell) (float64, float64) { return x.weight, x.value - x.round.diff })
		for c := range f.carriers {
			m := &f.carriers[c]
			m.diff = (m.total + lean*middle) / (m.weight + lean)
		}
		if !f.shifts() {
			return
		}
		lean = f.scatter / f.shifting
		f.byRound(func(x *cell) (float64, float64) { return x.weight, x.value - x.carrier.diff })
		middle, f.shifting = 0, 0
		for n := range f.rounds {
			m := &f.rounds[n]
			m.diff = m.total / (m.weight + lean)
			middle += m.diff / float64(f.present)
		}
		for n := range f.rounds {
			if m := &f.rounds[n]; m.measured > 0 {
				m.diff -= middle
				f.shifting += (m.diff*m.diff + f.scatter/(m.weight+lean)) / float64(max(1, f.present-1))
			}
		}
		f.shifting = max(1e-3, f.shifting)
		for c := range f.carriers {
			f.carriers[c].diff += middle
		}
	}
}

// shifts tells whether rounds have shifts: of one carrier nobody can tell a shift from a stray, and the
// step of a floor is told by the floors.
func (f *fit) shifts() bool { return len(f.carriers) > 1 }

// advantage gives the mean of the carriers' differences.
func (f *fit) advantage() (mean float64) {
	for c := range f.carriers {
		mean += f.carriers[c].diff / float64(len(f.carriers))
	}
	return mean
}

// newScatter takes the variance of differences about what is expected of them, strays left out,
// and what the model does not know of weak ones.
func (f *fit) newScatter() {
	var weight, informed, square, unknown float64
	for i := range f.cells {
		x := &f.cells[i]
		w, away := x.there*x.regular, x.diff-x.expected()
		weight, informed = weight+w, informed+w*x.info
		square, unknown = square+w*away*away, unknown+w*x.vDiff
	}
	used := float64(len(f.carriers))
	lean := f.scatter / f.shifting
	for n := range f.rounds {
		used += f.rounds[n].weight / (f.rounds[n].weight + lean)
	}
	free := max(informed-used, 1+informed/4)
	f.scatter = max(0.05, (square*informed/free+unknown)/max(weight, 1e-9))
}

// newAcross takes the variance of the carriers' differences.
func (f *fit) newAcross() {
	lean, middle := f.scatter/f.across, f.advantage()
	sum := usualWeight * usualAcross * usualAcross
	for c := range f.carriers {
		m := &f.carriers[c]
		sum += (m.diff-middle)*(m.diff-middle) + f.scatter/(m.weight+lean)
	}
	f.across = sum / (float64(len(f.carriers)) + usualWeight)
}

// levels takes the carriers' levels, the rounds' lifts and the variance about both.
func (f *fit) levels() {
	f.byCarrier(func(x *cell) (float64, float64) { return x.there, x.mean - x.round.level })
	for c := range f.carriers {
		m := &f.carriers[c]
		m.level = m.total / max(1e-3, m.weight)
	}
	f.byRound(func(x *cell) (float64, float64) { return x.there, x.mean - x.carrier.level })
	var middle, square, weight float64
	for n := range f.rounds {
		m := &f.rounds[n]
		m.level = m.total / max(1e-3, m.weight)
		middle += m.level / float64(f.present)
	}
	for n := range f.rounds {
		f.rounds[n].level -= middle
	}
	for c := range f.carriers {
		f.carriers[c].level += middle
	}
	for i := range f.cells {
		x := &f.cells[i]
		away := x.mean - x.carrier.level - x.round.level
		square, weight = square+x.there*(away*away+x.vMean), weight+x.there
	}
	f.fading = max(leastFading, square/max(1, weight))
}
