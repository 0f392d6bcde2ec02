package stat

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Figures of the standard normal distribution.
const (
	// NormalQuartile is the upper quartile. A normal variable's median absolute deviation
	// is as many standard deviations [Hampel:1974, pp. 383-393].
	NormalQuartile = 0.6745
	// MedianScatter and QuartileScatter are the standard errors of the median and of a
	// quartile of many values over that of their mean: √(p(1 − p))/φ at the quantile p,
	// φ the density there [Mosteller:1946, pp. 377-408].
	MedianScatter   = math.SqrtPi / math.Sqrt2 // 1.2533
	QuartileScatter = 1.36
)

// OneOfTwo is the standard error, as a share of their difference, where either of two
// figures may be right and one was taken: ±1.96·0.52 of the difference just holds the
// other (METHODS.md 5.6).
const OneOfTwo = 0.52

// GammaLowestMean gives the mean of the lowest share of gamma distributed values of
// mean 1: P(shape+1, x)/share, where P(shape, x) = share (METHODS.md 3.5).
func GammaLowestMean(shape, share float64) float64 {
	if share >= 1 {
		return 1
	}
	x := GammaQuantile(shape, share)
	return mathext.GammaIncReg(shape+1, x) / share
}

// GammaQuantile gives x with P(shape, x) = p, P the regularised incomplete gamma function.
func GammaQuantile(shape, p float64) float64 { return GammaUpperQuantile(shape, 1-p) }

// GammaUpperQuantile gives x with 1 − P(shape, x) = tail, by Newton's steps on the tail's
// logarithm: tails of 1e-14 are known as well as those of a half. They start from the cube of
// Wilson and Hilferty [Abramowitz:1964, eq. 26.4.17], which is a few per cent off for shapes of
// 1 or more. gonum's own inverse allocates.
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

// NormalTail gives the probability that a standard normal variable exceeds z.
func NormalTail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// RatioTail gives the probability that a sum of n exponential variables takes at least
// the share x/(x+y) of itself and a sum of m others of the same mean: the tail of F's
// distribution with 2n and 2m degrees of freedom [Abramowitz:1964, eq. 26.6.2].
func RatioTail(n, x, m, y float64) float64 { return mathext.RegIncBeta(m, n, y/(x+y)) }

// NoiseQuantile gives a quantile of the mean of so many looks of noise of mean 1: the
// one whose probability is that of z in a normal distribution. The cube root of a mean
// of powers is nearly normal [Wilson:1931, pp. 684-688]; good to 0.3 % from 25 looks on
// (METHODS.md 3.4).
func NoiseQuantile(looks, z float64) float64 {
	k := 1 / (9 * looks)
	root := 1 - k + z*math.Sqrt(k)
	return root * root * root
}

// FromDB gives the power ratio of a number of decibels.
func FromDB(db float64) float64 { return math.Pow(10, db/10) }

// DB gives a power ratio in decibels, −300 at the least: ratios of 0 and less give that.
func DB(ratio float64) float64 { return 10 * math.Log10(max(1e-30, ratio)) }

// SquaredAbs gives |z|².
func SquaredAbs(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// SigmaDB gives a relative standard error of a power in decibels: what a power higher by
// as much reads more (METHODS.md 1.2).
func SigmaDB(relative float64) float64 { return 10 * math.Log10(1+relative) }
