package stat

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// GammaLowestMean gives the mean of the lowest share of gamma distributed values of
// mean 1.
func GammaLowestMean(shape, share float64) float64 {
	if share >= 1 {
		return 1
	}
	x := GammaQuantile(shape, share)
	return mathext.GammaIncReg(shape+1, x) / share
}

// GammaQuantile gives x with P(shape, x) = p: Newton's steps from the cube of
// Wilson and Hilferty, which is a few per cent off for shapes of 1 or more.
// (gonum's own inverse allocates.)
func GammaQuantile(shape, p float64) float64 {
	z := math.Sqrt2 * math.Erfinv(2*p-1)
	c := 1 - 1/(9*shape) + z/(3*math.Sqrt(shape))
	x := shape * max(1e-3, c*c*c)
	logGamma, _ := math.Lgamma(shape)
	for range 20 {
		density := math.Exp((shape-1)*math.Log(x) - x - logGamma)
		step := (mathext.GammaIncReg(shape, x) - p) / density
		step = max(-x, min(x/2, step)) // stays positive, at most doubles
		x -= step
		if math.Abs(step) < 1e-10*x {
			break
		}
	}
	return x
}

// GammaUpperQuantile gives x with 1 − P(shape, x) = tail, by Newton's steps on the tail's
// logarithm: tails of 1e-14 are known as well as those of a half.
func GammaUpperQuantile(shape, tail float64) float64 {
	x := shape * max(1e-3, NoiseQuantile(shape, math.Sqrt2*math.Erfcinv(2*tail)))
	logGamma, _ := math.Lgamma(shape)
	for range 20 {
		density := math.Exp((shape-1)*math.Log(x) - x - logGamma)
		q := mathext.GammaIncRegComp(shape, x)
		step := q * math.Log(q/tail) / density
		x += step
		if math.Abs(step) < 1e-10*x {
			break
		}
	}
	return x
}

// GammaLevel gives the mean of gamma distributed powers as their quantile at share tells it,
// which what stands up among them hardly moves. It puts powers into another order. Levels of
// spectra, of many looks, are told by Select and NoiseQuantile, which costs less and is good
// enough there.
func GammaLevel(powers []float64, share, shape float64) float64 {
	if len(powers) == 0 {
		return 0
	}
	return Select(powers, int(share*float64(len(powers)-1))) * shape / GammaQuantile(shape, share)
}

// NormalTail gives the probability that a normal value exceeds z.
func NormalTail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// RatioTail gives the P of a sum x of n exponential variables beside a sum y of m of
// them: the probability that its share of both is so great, F's distribution with 2n
// and 2m degrees of freedom.
func RatioTail(n, x, m, y float64) float64 { return mathext.RegIncBeta(m, n, y/(x+y)) }

// NoiseQuantile gives a quantile of the mean of so many independent powers (looks)
// of noise of mean 1: the one that stands where z does in a normal distribution
// (Wilson and Hilferty's cube root, for a mean of powers is skewed).
func NoiseQuantile(looks, z float64) float64 {
	k := 1 / (9 * looks)
	root := 1 - k + z*math.Sqrt(k)
	return root * root * root
}
