// Package baseline fits the local level of noise under a spectrum, against which signals
// are told.
//
// In go the powers of one half of a recording by column, and which columns are closed
// because signals are known to take them. Out comes the noise's level by column. What rises
// and sinks gently over frequency (humps, tilts, ripple) is noise whatever its height; what
// stands up with steep edges is a signal where it is narrow or high, and noise where it is
// broad (METHODS.md 4.3, 4.4). Which columns to close is left to package floor.
package baseline

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/fft"
)

const (
	cellHz       = 500.0 // a cell: the finest scale of the tests beyond one bin
	cellsInGroup = 5     // 2.5 kHz: what the baseline is made from
	likely       = 3.5   // standard errors within which a group belongs to the noise; 2e-4 of noise is beyond
	refits       = 6     // rounds of leaving out what stands over the course; bounds the time, more change nothing

	// steepest is how fast noise may rise, in nepers of power a group: 0.25 dB/kHz.
	// A hump of 12 dB, 100 kHz wide at half its height in dB, rises by 0.17, ripple of
	// ±1 dB with a period of 40 kHz by 0.16; a 4.5 kHz audio filter's edge falls by more
	// than 1. TestFlankIsAskedForAsAWhole.
	steepest = 0.25 * cellHz * cellsInGroup / 1000 * math.Ln10 / 10
)

// A Baseline fits the noise of a half. Buffers are reused.
type Baseline struct {
	CellWidth  int       // bins in a cell
	sums       []float64 // prefix sums of the power of open bins
	count      []int     // prefix counts of them
	groupLevel []float64 // mean of each group's open bins
	open       []int     // how many they are
	sigma      []float64 // relative standard error of level
	accepted   []bool    // noise by how it rises from its neighbours, or by its width
	included   []bool    // of these, what the course is fitted to
	step       []bool    // between this group and the one before the noise steps
	course     course    // logarithm of the local noise by group
	noise      []float64 // the local noise by group
	sorted     []float64
	weight     []float64
	order      []int
	undecided  []stretch // that may be noise or signals
}

// New readies a Baseline for spectra of so many columns, binWidth Hz apart.
func New(bins int, binWidth float64) *Baseline {
	width := max(1, int(math.Round(cellHz/binWidth)))
	groups := (bins + width*cellsInGroup - 1) / (width * cellsInGroup)
	return &Baseline{
		CellWidth: width, sums: make([]float64, bins+1), count: make([]int, bins+1),
		groupLevel: make([]float64, groups), open: make([]int, groups), sigma: make([]float64, groups),
		accepted: make([]bool, groups), included: make([]bool, groups), step: make([]bool, groups),
		noise: make([]float64, groups), weight: make([]float64, groups), course: newCourse(groups),
	}
}

// Fit fits the noise under power (one half's mean by column), leaving out the
// closed columns; looks is the number of independent averages. It reports
// whether there was anything to fit.
func (l *Baseline) Fit(power []float64, closed []bool, looks float64) bool {
	l.gather(power, closed, looks)
	if !l.flood() {
		return false
	}
	copy(l.included, l.accepted)
	clear(l.step)
	l.fitUntilStable()
	l.plateaus()
	l.fitUntilStable()
	return true
}

// fitUntilStable fits the course and leaves out what stands over it until nothing changes.
func (l *Baseline) fitUntilStable() {
	for range refits {
		l.fitCourse()
		if !l.chooseIncluded() {
			break
		}
	}
}

// Sum fills the prefix sums of the open bins.
func (l *Baseline) Sum(power []float64, closed []bool) {
	for b, p := range power {
		l.sums[b+1], l.count[b+1] = l.sums[b], l.count[b]
		if !closed[b] {
			l.sums[b+1] += p
			l.count[b+1]++
		}
	}
}

// gather averages the open bins by group. Groups tell the noise of which a quarter is open, or,
// where none is so open, those with any open bin.
func (l *Baseline) gather(power []float64, closed []bool, looks float64) {
	l.Sum(power, closed)
	span, most := l.CellWidth*cellsInGroup, 0
	for g := range l.groupLevel {
		from, to := g*span, min((g+1)*span, len(power))
		l.groupLevel[g], l.open[g] = l.Mean(from, to)
		most = max(most, l.open[g])
	}
	least := max(1, span/4)
	if most < least {
		least = 1
	}
	for g := range l.groupLevel {
		if l.open[g] < least || !(l.groupLevel[g] > 0) {
			l.open[g] = 0
		}
		l.sigma[g] = math.Sqrt(fft.BinExcess / (looks * float64(max(1, l.open[g]))))
	}
}

// Mean gives the mean of the open bins from…to and their number.
func (l *Baseline) Mean(from, to int) (float64, int) {
	n := l.count[to] - l.count[from]
	if n == 0 {
		return 0, 0
	}
	return (l.sums[to] - l.sums[from]) / float64(n), n
}

// fitCourse lays the course through the included groups.
func (l *Baseline) fitCourse() {
	for g, p := range l.groupLevel {
		l.course.variance[g] = math.Inf(1)
		if l.included[g] {
			// The mean of a logarithm lies half the variance low.
			v := l.sigma[g] * l.sigma[g]
			l.course.y[g], l.course.variance[g] = math.Log(p)+v/2, v
		}
	}
	l.setCourseSteps()
	l.course.follow()
	for g := range l.noise {
		l.noise[g] = math.Exp(l.course.x[g])
	}
}

// setCourseSteps tells the course where the noise steps. A step between two groups that
// are far apart, with taken columns between, may lie anywhere there: the variance
// of a step half as high at random is spread over the gap, which fills it evenly
// and leaves the doubt of a step at an unknown place, its height/√12.
func (l *Baseline) setCourseSteps() {
	clear(l.course.step)
	last := -1
	for g := range l.groupLevel {
		if l.open[g] == 0 {
			continue
		}
		if l.step[g] && last >= 0 {
			height := math.Log(l.groupLevel[g] / l.groupLevel[last])
			for k := last + 1; k <= g; k++ {
				l.course.step[k] = max(leastStep, height*height) / float64(g-last)
			}
		}
		last = g
	}
}

// leastStep is the least variance of a step, nepers²: (1 dB)². TestLowStepsBesideStations.
const leastStep = 0.053

// chooseIncluded leaves out of the fit the groups that stand clearly over the course,
// and takes in those that do not. Edges of steps, that lie within a group, stand
// under it. It reports whether anything changed.
func (l *Baseline) chooseIncluded() bool {
	changed := false
	for g, p := range l.groupLevel {
		off := math.Log(max(p, math.SmallestNonzeroFloat64)/l.noise[g]) / l.sigma[g]
		in := l.open[g] > 0 && off < likely
		if !l.accepted[g] {
			in = in && off < likely/2
		}
		if g > 0 && l.step[g] || g+1 < len(l.step) && l.step[g+1] {
			in = in && off > -likely
		}
		changed = changed || in != l.included[g]
		l.included[g] = in
	}
	return changed
}

// Level writes the noise by column, straight between the middles of groups
// but for steps.
func (l *Baseline) Level(noise []float64) {
	span := float64(l.CellWidth * cellsInGroup)
	for b := range noise {
		x := (float64(b)+0.5)/span - 0.5
		g := max(0, min(len(l.noise)-1, int(x)))
		next := min(len(l.noise)-1, g+1)
		u := max(0, x-float64(g))
		if l.step[next] {
			u = math.Round(u)
		}
		noise[b] = l.noise[g] + u*(l.noise[next]-l.noise[g])
	}
}

// byLevel gives the open groups, lowest first.
func (l *Baseline) byLevel() []int {
	l.order = l.order[:0]
	for g := range l.groupLevel {
		if l.open[g] > 0 {
			l.order = append(l.order, g)
		}
	}
	slices.SortFunc(l.order, func(a, b int) int { return cmp.Compare(l.groupLevel[a], l.groupLevel[b]) })
	return l.order
}

// Variance gives the variance of the noise summed over the columns from…to, as one
// half tells it.
func (l *Baseline) Variance(from, to int) float64 {
	span := l.CellWidth * cellsInGroup
	clear(l.weight)
	for g := range l.weight {
		columns := min((g+1)*span, to) - max(g*span, from)
		l.weight[g] = float64(max(0, columns)) * l.noise[g]
	}
	doubt := l.course.doubt(l.weight)
	return doubt * doubt
}
