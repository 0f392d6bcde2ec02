package baseline

import (
	"math"
	"slices"
)

// A course is a smooth line through noisy points, some of them missing: level
// and slope, where the slope wanders from point to point by a variance (the
// wander) that the points themselves tell, by their likelihood [Harvey:1989, ch. 3, 4].
// Through points that lie straight it is a straight line, over gaps a cubic; and
// it knows how far it may be off in a gap. Buffers are reused.
type course struct {
	y, variance []float64 // a point and its variance; infinite where there is none
	step        []float64 // variance of a step of the level before this point, after which the slope is anew
	x           []float64 // the line
	spread      []float64 // its variance
	wander      []float64 // chosen for each point
	evidence    []float64 // of the wander in trial
	best        []float64 // the most so far
	trial       []float64

	ahead, at []belief // before and after each point was seen
}

// A belief is a level and a slope with their covariance.
type belief struct{ x, v, xx, xv, vv float64 }

// wanders are the variances of the slope's change that are tried (METHODS.md 4.5), nepers²/group²
// each group (2.5 kHz): from straight to ripple of ±1 dB with a period of 40 kHz,
// whose curvature is 0.0355 nepers a group² at most and 0.025 rms.
var wanders = []float64{1e-10, 1e-8, 1e-7, 1e-6, 1e-5, 4e-5, 1.6e-4, 6.4e-4, 1.5e-3}

// wanderReach is how many points on either side tell a point's wander: ±50 kHz. Chosen.
const wanderReach = 20

// standsApart bounds what a point says against a line, in squared standard deviations: of
// noise 1.4 % stand farther off.
const standsApart = 6.0

// slopeOfNoise is the rms slope of noise that wanders, nepers a group: 0.17 dB/kHz, that of
// the humps named at steepest.
const slopeOfNoise = 0.1

// Variances of the level, nepers², and of the slope, (nepers a group)², before any point is
// known: of the level nothing is.
const (
	anyLevel = 1e3
	anySlope = steepest * steepest
)

func newCourse(n int) course {
	return course{
		y: make([]float64, n), variance: make([]float64, n), step: make([]float64, n),
		x: make([]float64, n), spread: make([]float64, n), wander: make([]float64, n),
		evidence: make([]float64, n+1), best: make([]float64, n), trial: make([]float64, n),
		ahead: make([]belief, n), at: make([]belief, n),
	}
}

// follow chooses the wander and lays the line.
func (c *course) follow() {
	for i, w := range wanders {
		for g := range c.trial {
			c.trial[g] = w
		}
		c.filter(c.trial, true)
		c.choose(w, i == 0)
	}
	c.filter(c.wander, false)
	c.smooth()
}

// choose takes a wander for the points about which it explains the points best.
func (c *course) choose(wander float64, first bool) {
	sum := 0.0
	for g := range c.y {
		sum, c.evidence[g] = sum+c.evidence[g], sum
	}
	c.evidence[len(c.y)] = sum
	for g := range c.y {
		e := c.evidence[min(len(c.y), g+wanderReach+1)] - c.evidence[max(0, g-wanderReach)]
		if first || e > c.best[g] {
			c.best[g], c.wander[g] = e, wander
		}
	}
}

// first gives the belief before any point: the level is about that of the first.
func (c *course) first() belief {
	known := slices.IndexFunc(c.variance, func(v float64) bool { return !math.IsInf(v, 1) })
	return belief{x: c.y[max(0, known)], xx: anyLevel, vv: anySlope}
}

// filter goes through the points with the wander of each. In trial it notes what
// speaks for the wander, the logarithm of each point's likelihood, and passes
// over points that stand apart: few of them must not make a line wander.
func (c *course) filter(wander []float64, trial bool) {
	b := c.first()
	for g := range c.y {
		if g > 0 {
			b = b.next(wander[g], c.step[g])
		}
		c.ahead[g] = b
		c.evidence[g] = 0
		if v := c.variance[g]; !math.IsInf(v, 1) {
			off, total := c.y[g]-b.x, b.xx+v
			apart := off * off / total
			c.evidence[g] = -(math.Log(total) + min(apart, standsApart)) / 2
			if !trial || apart < standsApart {
				b = b.seen(off, total)
			}
		}
		c.at[g] = b
	}
}

// keeps is the share of the slope that lasts for a group: with it a slope that
// wanders stays within slopeOfNoise.
func keeps(wander float64) float64 { return math.Sqrt(1 - wander/(slopeOfNoise*slopeOfNoise)) }

// next is the belief one point on.
func (b belief) next(wander, step float64) belief {
	if step > 0 {
		return belief{x: b.x + b.v, xx: b.xx + 2*b.xv + b.vv + step, vv: anySlope}
	}
	r := keeps(wander)
	return belief{
		x: b.x + b.v, v: r * b.v,
		xx: b.xx + 2*b.xv + b.vv + wander/3, xv: r*(b.xv+b.vv) + wander/2, vv: r*r*b.vv + wander,
	}
}

// seen is the belief after a point that lies off by so much, of total variance.
func (b belief) seen(off, total float64) belief {
	kx, kv := b.xx/total, b.xv/total
	return belief{
		x: b.x + kx*off, v: b.v + kv*off,
		xx: b.xx - kx*b.xx, xv: b.xv - kx*b.xv, vv: b.vv - kv*b.xv,
	}
}

// smooth goes back from the last point, so that each level rests on the points
// of both sides (Rauch, Tung and Striebel's recursion [Rauch:1965, pp. 1445-1450]).
func (c *course) smooth() {
	n := len(c.y)
	s := c.at[n-1]
	c.x[n-1], c.spread[n-1] = s.x, s.xx
	for g := n - 2; g >= 0; g-- {
		s = c.at[g].back(s, c.ahead[g+1], c.keep(g+1))
		c.x[g], c.spread[g] = s.x, s.xx
	}
}

// keep is the share of the slope that the step to a point keeps.
func (c *course) keep(g int) float64 {
	if c.step[g] > 0 {
		return 0
	}
	return keeps(c.wander[g])
}

// back is the belief b about a point, knowing what all points say of the next one
// (s) beside what was foretold of it (a).
func (b belief) back(s, a belief, keep float64) belief {
	// Gain G = B·Fᵀ·A⁻¹, F the step of next.
	px, pv := b.xx+b.xv, b.xv+b.vv // cov(level, slope of b; level of the next)
	qx, qv := keep*b.xv, keep*b.vv // … slope of the next
	det := a.xx*a.vv - a.xv*a.xv
	if !(det > 0) {
		return b
	}
	g11, g12 := (px*a.vv-qx*a.xv)/det, (qx*a.xx-px*a.xv)/det
	g21, g22 := (pv*a.vv-qv*a.xv)/det, (qv*a.xx-pv*a.xv)/det
	dx, dv := s.x-a.x, s.v-a.v
	exx, exv, evv := s.xx-a.xx, s.xv-a.xv, s.vv-a.vv
	return belief{
		x: b.x + g11*dx + g12*dv, v: b.v + g21*dx + g22*dv,
		xx: b.xx + g11*(g11*exx+g12*exv) + g12*(g11*exv+g12*evv),
		xv: b.xv + g21*(g11*exx+g12*exv) + g22*(g11*exv+g12*evv),
		vv: b.vv + g21*(g21*exx+g22*exv) + g22*(g21*exv+g22*evv),
	}
}

// doubt gives the standard deviation of Σ weight·level over the points, given
// all of them: the sum is carried along as a third part of the belief.
func (c *course) doubt(weight []float64) float64 {
	var ss, sx, sv float64 // of the sum so far: variance, covariance with level and slope
	for g := range c.y {
		b := c.ahead[g]
		if g > 0 {
			sx, sv = sx+sv, c.keep(g)*sv
		}
		if v := c.variance[g]; !math.IsInf(v, 1) {
			total := b.xx + v
			ss -= sx * sx / total
			sx, sv = sx-sx*b.xx/total, sv-sx*b.xv/total
			b = c.at[g]
		}
		w := weight[g]
		ss += 2*w*sx + w*w*b.xx
		sx, sv = sx+w*b.xx, sv+w*b.xv
	}
	return math.Sqrt(max(0, ss))
}
