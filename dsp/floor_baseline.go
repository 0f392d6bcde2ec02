package dsp

import (
	"math"
	"slices"
)

// The baseline is the local level of the noise, against which signals are
// told: it follows tilts and humps 100 kHz wide or wider, and passes under
// blocks of data or speech up to 40 kHz wide.
const (
	cellHz        = 500.0 // a cell: the finest scale of the tests beyond one bin
	cellsInGroup  = 5     // 2.5 kHz: what the baseline is made from
	quantileReach = 16    // groups on either side: ±40 kHz
	baselineLow   = 0.3   // the quantile that begins
	fitReach      = 6     // groups on either side of a local fit: ±15 kHz, more where few are free
	fitFewest     = 6
	rounds        = 40  // more than a hump 200 kHz wide takes to grow over
	sideReach     = 8   // groups that a slope is drawn out from
	likely        = 3.5 // standard errors within which a group belongs to the noise
)

// binCorrelation is by how much the sum over neighbouring Hann bins scatters
// more than independent bins would: 1 + 2·(4/9 + 1/36).
const binCorrelation = 1 + 2*(4.0/9+1.0/36)

// A baseline fits the noise of a half. Buffers are reused.
type baseline struct {
	width    int       // bins in a cell
	sum      []float64 // prefix sums of the power of open bins
	count    []int     // prefix counts of them
	level    []float64 // mean of each group's open bins
	open     []int     // how many they are
	sigma    []float64 // relative standard error of level
	included []bool
	next     []bool
	fit      []float64 // logarithm of the local noise by group
	sorted   []float64
}

func newBaseline(bins int, binWidth float64) *baseline {
	width := max(1, int(math.Round(cellHz/binWidth)))
	groups := (bins + width*cellsInGroup - 1) / (width * cellsInGroup)
	return &baseline{
		width: width, sum: make([]float64, bins+1), count: make([]int, bins+1),
		level: make([]float64, groups), open: make([]int, groups), sigma: make([]float64, groups),
		included: make([]bool, groups), next: make([]bool, groups), fit: make([]float64, groups),
	}
}

// of fits the noise under power (one half's mean by column), leaving out the
// closed columns; looks is the number of independent averages. It tells
// whether there was anything to fit.
func (l *baseline) of(power []float64, closed []bool, looks float64) bool {
	l.gather(power, closed, looks)
	some := l.begin()
	if !some {
		return false
	}
	for range rounds {
		l.refit()
		if !l.regrow() {
			break
		}
	}
	l.refit()
	return true
}

// runUp fills the prefix sums of the open bins.
func (l *baseline) runUp(power []float64, closed []bool) {
	for b, p := range power {
		s, c := 0.0, 0
		if !closed[b] {
			s, c = p, 1
		}
		l.sum[b+1], l.count[b+1] = l.sum[b]+s, l.count[b]+c
	}
}

// gather averages the open bins by group.
func (l *baseline) gather(power []float64, closed []bool, looks float64) {
	l.runUp(power, closed)
	span := l.width * cellsInGroup
	for g := range l.level {
		from, to := g*span, min((g+1)*span, len(power))
		l.level[g], l.open[g] = l.mean(from, to)
		if l.open[g] < max(1, span/4) {
			l.open[g] = 0
		}
		l.sigma[g] = math.Sqrt(binCorrelation / (looks * float64(max(1, l.open[g]))))
	}
}

// mean gives the mean of the open bins from…to and their number.
func (l *baseline) mean(from, to int) (float64, int) {
	n := l.count[to] - l.count[from]
	if n == 0 {
		return 0, 0
	}
	return (l.sum[to] - l.sum[from]) / float64(n), n
}

// begin takes for noise the groups that are not clearly above a low quantile of
// their surroundings.
func (l *baseline) begin() bool {
	some := false
	for g := range l.level {
		l.included[g] = false
		if l.open[g] == 0 {
			continue
		}
		q := l.quantileAround(g)
		l.included[g] = l.level[g] <= q*(1+(likely+0.5)*l.sigma[g]) // the quantile lies 0.5 sigma under the mean
		some = some || l.included[g]
	}
	return some
}

// quantileAround looks ±40 kHz about, farther where fewer than eight groups
// are open.
func (l *baseline) quantileAround(g int) float64 {
	for reach := quantileReach; ; reach *= 2 {
		l.sorted = l.sorted[:0]
		from, to := max(0, g-reach), min(len(l.level), g+reach+1)
		for k := from; k < to; k++ {
			if l.open[k] > 0 {
				l.sorted = append(l.sorted, l.level[k])
			}
		}
		if len(l.sorted) >= 8 || (from == 0 && to == len(l.level)) {
			slices.Sort(l.sorted)
			return l.sorted[int(baselineLow*float64(len(l.sorted)-1))]
		}
	}
}

// refit fits each group by its included neighbours: a straight line through
// the logarithms of their levels where they lie on both sides, else their mean.
func (l *baseline) refit() {
	for g := range l.fit {
		reach := fitReach
		for {
			found, done := l.localFit(g, reach)
			if found || done {
				break
			}
			reach *= 2
		}
	}
}

// localFit writes fit[g]; it wants fitFewest groups within reach.
func (l *baseline) localFit(g, reach int) (found, done bool) {
	from, to := max(0, g-reach), min(len(l.level), g+reach+1)
	var w0, w1, w2, y0, y1 float64
	n, left, right := 0, false, false
	for k := from; k < to; k++ {
		if !l.included[k] {
			continue
		}
		u := float64(k-g) / float64(reach+1)
		c := 1 - math.Abs(u*u*u)
		w, y := c*c*c*float64(l.open[k]), math.Log(l.level[k])
		w0, w1, w2, y0, y1 = w0+w, w1+w*u, w2+w*u*u, y0+w*y, y1+w*u*y
		n++
		left, right = left || k <= g, right || k >= g
	}
	done = from == 0 && to == len(l.level)
	if n == 0 || (n < fitFewest && !done) {
		return false, done
	}
	l.fit[g] = y0 / w0
	if d := w0*w2 - w1*w1; left && right && n >= 3 && d > 1e-9*w0*w0 {
		l.fit[g] = (w2*y0 - w1*y1) / d
	}
	return true, done
}

// regrow takes groups into the noise that fit its local course and stand next
// to others of the noise, and drops those that stand out. The course is the
// local fit, or the slope of either side drawn out by one group, whichever is
// highest: so the noise grows up the flanks of a hump, but does not jump onto a
// block with steep edges. It tells whether anything changed.
func (l *baseline) regrow() bool {
	changed := false
	for g := range l.level {
		l.next[g] = false
		if l.open[g] == 0 {
			continue
		}
		course := l.fit[g]
		below, above := l.neighbour(g, -1), l.neighbour(g, +1)
		if below >= 0 && l.included[below] {
			course = max(course, l.drawnOut(g, -1))
		}
		if above >= 0 && l.included[above] {
			course = max(course, l.drawnOut(g, +1))
		}
		near := l.included[g] || below >= 0 && l.included[below] || above >= 0 && l.included[above]
		l.next[g] = near && l.level[g] <= math.Exp(course)*(1+likely*l.sigma[g])
		changed = changed || l.next[g] != l.included[g]
	}
	l.included, l.next = l.next, l.included
	return changed
}

// neighbour gives the next open group in a direction within fitReach, or −1.
func (l *baseline) neighbour(g, direction int) int {
	for d := 1; d <= fitReach; d++ {
		k := g + direction*d
		if k < 0 || k >= len(l.level) {
			return -1
		}
		if l.open[k] > 0 {
			return k
		}
	}
	return -1
}

// drawnOut extrapolates to g the straight line through the logarithms of the
// included groups on one side of it; with fewer than five there is no slope.
func (l *baseline) drawnOut(g, direction int) float64 {
	var w0, w1, w2, y0, y1 float64
	n := 0
	for d := 1; d <= 2*sideReach && n < sideReach; d++ {
		k := g + direction*d
		if k < 0 || k >= len(l.level) {
			break
		}
		if !l.included[k] {
			continue
		}
		w, u, y := float64(l.open[k]), float64(d), math.Log(l.level[k])
		w0, w1, w2, y0, y1 = w0+w, w1+w*u, w2+w*u*u, y0+w*y, y1+w*u*y
		n++
	}
	if det := w0*w2 - w1*w1; n >= 5 && det > 0 {
		return (w2*y0 - w1*y1) / det
	}
	return math.Inf(-1)
}

// spread writes the noise by column, straight between the middles of groups.
func (l *baseline) spread(noise []float64) {
	span := float64(l.width * cellsInGroup)
	for g := range l.fit {
		l.fit[g] = math.Exp(l.fit[g])
	}
	for b := range noise {
		x := (float64(b)+0.5)/span - 0.5
		g := max(0, min(len(l.fit)-1, int(x)))
		next := min(len(l.fit)-1, g+1)
		u := max(0, x-float64(g))
		noise[b] = l.fit[g] + u*(l.fit[next]-l.fit[g])
	}
}
