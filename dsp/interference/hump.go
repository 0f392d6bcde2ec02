package interference

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/stat"
)

// Figures of the search for humps (METHODS.md 11.2); chosen.
const (
	humpLeast     = 2.5     // dB
	humpNarrowest = 60e3    // Hz, between the places of half its height
	humpBroadest  = 2.0 / 3 // of the passband
	humpFree      = 0.4     // of its columns
	humpSide      = 60e3    // Hz at least on either side, for the curve
	humpsMost     = 4
	humpStands    = 1e-2 // P up to which a rise is measured

	// The curve of receivers and antennas is smooth: standard deviations of its slope and of
	// its bend, in dB from the middle of the passband to its edge.
	curveSlope = 2.5
	curveBend  = 1.5
)

// A humpCell is cellWidth of the passband.
type humpCell struct {
	levelOf
	x float64 // −1…1 over the passband
}

// humps finds broad rises of the noise over a smooth curve. The curve is a parabola through
// the cells on both sides of the rise; how much slope and bend it may have is known beforehand
// (curveSlope, curveBend).
func (l *cellLevels) humps() (found []Hump) {
	cells := l.cells()
	curve := newHumpCurve(len(cells), l.straying(cells))
	for range humpsMost {
		from, to, p := curve.strongest(cells, l.wide(humpNarrowest, 0.5), l.wide(humpSide, 1))
		if p > humpStands {
			break
		}
		if h, ok := l.hump(curve, cells, from, to); ok {
			h.P = p
			found = append(found, h)
			// The foot of a hump reaches as far again on either side: it is no other hump.
			width := h.High - h.Low
			from, to = min(from, l.cell(h.Low-width)), max(to, l.cell(h.High+width)+1)
		}
		for i := max(0, from); i < min(len(cells), to); i++ {
			cells[i].ok = false
		}
	}
	slices.SortFunc(found, func(a, b Hump) int { return cmp.Compare(a.P, b.P) })
	return found
}

// wide gives how many cells a share of a width in Hz takes, rounded up.
func (l *cellLevels) wide(hz, share float64) int { return int(math.Ceil(hz * share / cellWidth)) }

// columns gives how many columns a cell has.
func (l *cellLevels) columns() int { return max(cellLeast, int(math.Round(cellWidth/l.binWidth))) }

// cell gives the cell that holds a frequency; it may lie outside.
func (l *cellLevels) cell(hz float64) int {
	return int(math.Floor(float64(l.column(hz)) / float64(l.columns())))
}

// cells cuts the passband into cells.
func (l *cellLevels) cells() []humpCell {
	width := l.columns()
	n := len(l.power) / width
	cells := make([]humpCell, n)
	for i := range cells {
		cells[i] = humpCell{levelOf: l.of(i*width, (i+1)*width), x: (2*float64(i)+1)/float64(n) - 1}
	}
	return cells
}

// straySpans are how many cells long the stretches are whose levels tell how ragged a
// spectrum is: 5 to 30 kHz, over which a hump bends little.
var straySpans = []int{1, 4, 6}

// straying gives by how much a stretch of wiggleWidth strays from the curve, in dB:
// wiggle, or more where neighbouring stretches do not lie straight. The bursts of a few
// transmissions make a ragged spectrum.
func (l *cellLevels) straying(cells []humpCell) float64 {
	most := wiggle
	for _, span := range straySpans {
		l.sorted = l.sorted[:0]
		for i := 0; i+3*span <= len(cells); i += span {
			bend := meanLevel(cells[i:i+span]) - 2*meanLevel(cells[i+span:i+2*span]) + meanLevel(cells[i+2*span:i+3*span])
			if !math.IsNaN(bend) {
				l.sorted = append(l.sorted, math.Abs(bend))
			}
		}
		if n := len(l.sorted); n > 0 {
			// Half of the normal values x − 2y + z stay under 0.6745·√6 standard deviations.
			most = max(most, stat.Select(l.sorted, n/2)/(0.6745*math.Sqrt(6)))
		}
	}
	return most
}

// meanLevel gives the mean of the cells' levels, NaN where none has one.
func meanLevel(cells []humpCell) float64 {
	level, n := 0.0, 0.0
	for _, c := range cells {
		if c.ok {
			level += c.level
			n++
		}
	}
	return level / n
}

// hump measures the rise in the cells from…to; ok is false where it is none.
func (l *cellLevels) hump(curve *humpCurve, cells []humpCell, from, to int) (h Hump, ok bool) {
	// Its flanks are not to bend the curve.
	grow := (to - from) / 2
	curve.fit(cells, max(0, from-grow), min(len(cells), to+grow))
	rise := curve.rise(cells)
	top := from
	for i := from; i < to; i++ {
		if cells[i].ok && rise[i] > rise[top] || !cells[top].ok {
			top = i
		}
	}
	height := rise[top]
	low, okLow := flank(cells, rise, top, -1)
	high, okHigh := flank(cells, rise, top, +1)
	if !okLow || !okHigh || height < humpLeast {
		return h, false
	}
	width := float64(l.columns())
	h = Hump{Low: l.hz((low + 0.5) * width), High: l.hz((high + 0.5) * width), Strength: math.Pow(10, height/10)}
	if h.High-h.Low < humpNarrowest || h.High-h.Low > humpBroadest*float64(len(l.power))*l.binWidth {
		return h, false
	}
	free, first, last := 0, int(math.Ceil(low)), int(high)
	for i := first; i <= last; i++ {
		free += cells[i].free
	}
	return h, float64(free) >= humpFree*width*float64(last-first+1) && isSummit(cells, top, first, last, height)
}

// flank gives where in a direction from the top a rise has sunk to half its height, in
// cells; ok is false where it does not within the passband.
func flank(cells []humpCell, rise []float64, top, direction int) (at float64, ok bool) {
	last := top
	for i := top + direction; i >= 0 && i < len(cells); i += direction {
		if !cells[i].ok {
			continue
		}
		if half := rise[top] / 2; rise[i] < half {
			part := (rise[last] - half) / (rise[last] - rise[i])
			return float64(last) + part*float64(i-last), true
		}
		last = i
	}
	return 0, false
}

// isSummit tells whether the noise itself, not only what it is over the curve, sinks on
// both sides of the cells low…high by half of the height: beside a notch or a step it
// does not.
func isSummit(cells []humpCell, top, low, high int, height float64) bool {
	sinks := func(from, to int) bool {
		for i := max(0, from); i < min(len(cells), to); i++ {
			if cells[i].ok && cells[i].level < cells[top].level-height/2 {
				return true
			}
		}
		return false
	}
	reach := high - low + 1
	return sinks(low-reach, low+1) && sinks(high, high+reach+1)
}

// A humpCurve is a parabola through the levels beside a stretch, by least squares with
// what is known of its slope and bend beforehand. Prefix sums make trying many
// stretches cheap.
type humpCurve struct {
	strays float64       // dB, of a stretch of wiggleWidth
	sums   []humpSums    // of the cells before
	a      [3]float64    // of 1, x, x²
	low    [3][3]float64 // root of the normal equations' matrix
	over   []float64
}

// humpSums are sums over cells: weight·x^k, weight·level·x^k; and without weight x^k and level.
type humpSums struct {
	x        [5]float64
	y, plain [3]float64
	level    float64
}

// n gives the number of cells.
func (s *humpSums) n() int { return int(s.plain[0]) }

func newHumpCurve(cells int, strays float64) *humpCurve {
	return &humpCurve{strays: strays, sums: make([]humpSums, cells+1), over: make([]float64, cells)}
}

// gather fills the prefix sums. Cells of one stretch of wiggleWidth stray together: each
// counts for its part of it.
func (c *humpCurve) gather(cells []humpCell) {
	const together = wiggleWidth / cellWidth
	for i, cell := range cells {
		s := c.sums[i]
		if cell.ok {
			weight, power := 1/(c.strays*c.strays*together+cell.sigma*cell.sigma), 1.0
			for k := range s.x {
				s.x[k] += weight * power
				if k < len(s.y) {
					s.y[k] += weight * power * cell.level
					s.plain[k] += power
				}
				power *= cell.x
			}
			s.level += cell.level
		}
		c.sums[i+1] = s
	}
}

// less gives the sums of a without those of b.
func (a humpSums) less(b humpSums) humpSums {
	for k := range a.x {
		a.x[k] -= b.x[k]
	}
	for k := range a.y {
		a.y[k] -= b.y[k]
		a.plain[k] -= b.plain[k]
	}
	a.level -= b.level
	return a
}

// fit lays the curve through the cells but those from…to.
func (c *humpCurve) fit(cells []humpCell, from, to int) {
	c.gather(cells)
	c.through(c.sums[len(cells)].less(c.sums[to].less(c.sums[from])))
}

// through solves the normal equations by Cholesky's square root.
func (c *humpCurve) through(s humpSums) {
	l := &c.low
	know := [3]float64{1e-9, 1 / (curveSlope * curveSlope), 1 / (curveBend * curveBend)}
	for i := range 3 {
		for j := 0; j <= i; j++ {
			v := s.x[i+j]
			if i == j {
				v += know[i]
			}
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(max(v, 1e-12))
			} else {
				l[i][j] = v / l[j][j]
			}
		}
	}
	c.a = c.forward(s.y)
	for i := 2; i >= 0; i-- {
		for k := i + 1; k < 3; k++ {
			c.a[i] -= l[k][i] * c.a[k]
		}
		c.a[i] /= l[i][i]
	}
}

// forward solves L·u = v.
func (c *humpCurve) forward(v [3]float64) [3]float64 {
	for i := range 3 {
		for k := range i {
			v[i] -= c.low[i][k] * v[k]
		}
		v[i] /= c.low[i][i]
	}
	return v
}

// variance gives that of the curve at a vector (1, x, x²), or at a mean of such.
func (c *humpCurve) variance(v [3]float64) float64 {
	u := c.forward(v)
	return u[0]*u[0] + u[1]*u[1] + u[2]*u[2]
}

// strongest gives the stretch of cells that stands highest over the curve through the
// others, in standard deviations, of narrowest cells at least and with side cells on
// either side; and its P, the stretches tried taken together.
func (c *humpCurve) strongest(cells []humpCell, narrowest, side int) (from, to int, p float64) {
	c.gather(cells)
	n, all := len(cells), c.sums[len(cells)]
	best, tried := math.Inf(-1), 0
	for width := narrowest; width <= n-2*side; width += max(1, width/3) {
		for first := side; first+width <= n-side; first++ {
			inside := c.sums[first+width].less(c.sums[first])
			if 2*inside.n() < width || c.sums[first].n() < side || all.n()-c.sums[first+width].n() < side {
				continue
			}
			tried++
			if z := c.stands(all.less(inside), inside); z > best {
				best, from, to = z, first, first+width
			}
		}
	}
	if tried == 0 {
		return 0, 0, 1
	}
	return from, to, min(1, stat.NormalTail(best)*float64(tried))
}

// stands gives how many standard deviations the mean level of the cells inside lies over
// the curve through those outside.
func (c *humpCurve) stands(outside, inside humpSums) float64 {
	c.through(outside)
	n := inside.plain[0]
	mean := [3]float64{1, inside.plain[1] / n, inside.plain[2] / n}
	over := inside.level / n
	for k, v := range mean {
		over -= c.a[k] * v
	}
	return over / math.Sqrt(c.strays*c.strays*min(1, wiggleWidth/cellWidth/n)+c.variance(mean))
}

// rise gives the cells' levels over the curve, each the mean of three neighbours.
func (c *humpCurve) rise(cells []humpCell) []float64 {
	for i := range cells {
		sum, n := 0.0, 0.0
		for k := max(0, i-1); k <= min(len(cells)-1, i+1); k++ {
			if x := cells[k].x; cells[k].ok {
				sum += cells[k].level - c.a[0] - c.a[1]*x - c.a[2]*x*x
				n++
			}
		}
		c.over[i] = sum / max(1, n)
	}
	return c.over
}
