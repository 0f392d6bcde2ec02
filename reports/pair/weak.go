package pair

import (
	"math"

	"nightfloor/reports/stats"
)

const (
	// strongSigmas is from how many of its standard errors on a level is taken in dB. There the dB
	// of a normal power is biased by −4.34/(2·8²) = −0.03 dB. Chosen (STATISTICS.md 3.2).
	strongSigmas = 8
	// silentShare is how often a station that is weak is off the air. Chosen (STATISTICS.md 3.4).
	silentShare = 0.03
	// nodes and reach span a weak level: that many values, out to so many standard deviations.
	nodes, reach = 25, 4.5
	// What a power tells of a level is kept between these precisions, 1/dB², so that none that
	// says nothing, or all, ends in infinities.
	leastPrecision, mostPrecision = 1e-6, 1e4
)

// dB is how many decibels a relative change of power by a small x is, over x.
const dB = 10 / math.Ln10

// A side is one of the two setups in a cell.
type side struct {
	u, unit float64 // as in Level
	strong  bool
	known   normal // what the power says of the level
}

// A normal density, by its precision and that times its mean. The precision 0 says nothing.
type normal struct{ precision, shift float64 }

func (n normal) mean() float64 { return n.shift / n.precision }

// newSide finds whether a level is strong, and then where it stands.
func newSide(l Level, alpha float64) side {
	s := side{u: l.U, unit: l.Unit, strong: l.U >= strongSigmas*math.Sqrt(1+alpha*max(0, l.U))}
	if s.strong {
		v := (1 + alpha*l.U) / l.U / l.U
		p := min(mostPrecision, 1/(dB*dB*v))
		s.known = normal{p, p * (stats.Decibel(l.U) + l.Unit)}
	}
	return s
}

// expect finds what is to be expected of a cell of which not both levels are strong: two levels
// that are normal together before anything was measured, of which a strong power tells a normal
// density and a weak one is replaced by that which has the same mean and variance (expectation
// propagation).
func (x *cell) expect(f *fit) {
	centre, diff := x.carrier.level+x.round.level, x.expected()
	mean := [2]float64{centre + diff/2, centre - diff/2}
	variance, covariance := f.fading+f.scatter/4, f.fading-f.scatter/4
	x.there = 1
	for i := range x.sides {
		s, other := &x.sides[i], x.sides[1-i].known
		if s.strong {
			continue
		}
		k := covariance / (1 + variance*other.precision)
		m := mean[i] + k*(other.shift-other.precision*mean[1-i])
		v := max(1e-3, variance-k*covariance*other.precision)
		level, vLevel, there := tilt(s.u, f.alpha, m-s.unit, v)
		x.there *= there
		p := min(mostPrecision, max(leastPrecision, 1/vLevel-1/v))
		s.known = normal{p, (level+s.unit)*(p+1/v) - m/v}
	}
	a, b := x.sides[0].known, x.sides[1].known
	det := variance*variance - covariance*covariance
	// Of both levels together: precisions, and those times means.
	pa, pb, pab := variance/det+a.precision, variance/det+b.precision, -covariance/det
	sa := (variance*mean[0]-covariance*mean[1])/det + a.shift
	sb := (variance*mean[1]-covariance*mean[0])/det + b.shift
	det = pa*pb - pab*pab
	la, lb := (pb*sa-pab*sb)/det, (pa*sb-pab*sa)/det
	x.diff, x.vDiff = la-lb, (pa+pb+2*pab)/det
	x.mean, x.vMean = (la+lb)/2, (pa+pb-2*pab)/det/4
	x.both = (pb - pa) / det / 2
}

// gauss is the normal density at the nodes, times their distance.
var gauss = func() (g [nodes]float64) {
	for i := range g {
		z := reach * (2*float64(i)/(nodes-1) - 1)
		g[i] = math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) * 2 * reach / (nodes - 1)
	}
	return g
}()

// tilt gives mean and variance, in dB over the unit, of a level that was normal before its power u
// was measured, and the chance that there was a station at all.
func tilt(u, alpha, mean, variance float64) (m, v, there float64) {
	step := 2 * reach / (nodes - 1) * math.Sqrt(variance)
	lowest := mean - reach*math.Sqrt(variance)
	power, times := math.Exp(lowest/dB), math.Exp(step/dB) // 10^(x/10), in a fifth of the time
	var sum, first, second float64
	for i, g := range gauss {
		q := min(power, 1e6)
		w := 1 + alpha*q
		p := g * math.Exp(-(u-q)*(u-q)/(2*w)) / math.Sqrt(w)
		x := float64(i) * step
		sum, first, second = sum+p, first+p*x, second+p*x*x
		power *= times
	}
	silent := silentShare * math.Exp(-u*u/2)
	if sum < 1e-250 { // so far from all that was expected that it says nothing
		return mean, variance, 0
	}
	first /= sum
	return lowest + first, max(1e-4, second/sum-first*first), (1 - silentShare) * sum / ((1-silentShare)*sum + silent)
}
