package interference

import (
	"math"

	"nightfloor/dsp/stat"
)

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

// humpSums are sums over cells: weight·x^k, weight·level·x^k; and without weight.
type humpSums struct {
	x     [5]float64
	y     [3]float64
	plain [3]float64 // of x^k
	level float64
	n     int
}

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
			s.n++
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
	a.n -= b.n
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
			if 2*inside.n < width || c.sums[first].n < side || all.n-c.sums[first+width].n < side {
				continue
			}
			tried++
			if z := c.stands(all.less(inside), inside); z > best {
				best, from, to = z, first, first+width
			}
		}
	}
	return from, to, min(1, stat.NormalTail(best)*float64(tried))
}

// stands gives how many standard deviations the mean level of the cells inside lies over
// the curve through those outside.
func (c *humpCurve) stands(outside, inside humpSums) float64 {
	c.through(outside)
	n := float64(inside.n)
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
