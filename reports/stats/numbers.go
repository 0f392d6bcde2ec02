package stats

import (
	"math"
	"slices"
)

// MedianError is how many times the standard error of a mean that of a median is, √(π/2).
// TestErrorOfAMedian fails when it moves.
const MedianError = 1.2533

// FromDecibel gives the ratio of powers of so many dB.
func FromDecibel(x float64) float64 { return math.Pow(10, x/10) }

// GridPoint gives between which two of n points of a grid a place lies, and how far towards the
// second.
func GridPoint(at float64, n int) (index int, share float64) {
	at = max(0, min(float64(n-1), at))
	index = min(int(at), n-2)
	return index, at - float64(index)
}

// Relative gives a small error in dB as a share of the power.
func Relative(dB float64) float64 { return dB * math.Ln10 / 10 }

// Finite tells whether x is a number, and not infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Decibel gives a ratio of powers in dB.
func Decibel(x float64) float64 { return 10 * math.Log10(x) }

// MeanVariance gives mean and variance, the latter 0 of fewer than two.
func MeanVariance(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	if len(x) < 2 {
		return mean, 0
	}
	for _, v := range x {
		variance += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, variance
}

// Quantile gives the quantile q of values in rising order, between two of them by a
// straight line: type 7 of [Hyndman:1996] (STATISTICS.md 5.5). NaN of none.
func Quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	at := q * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	if i == len(sorted)-1 {
		return sorted[i]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// Median gives the middle of values in any order, NaN of none.
func Median(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return Quantile(s, 0.5)
}

// Spread gives the standard deviation of Gaussian values about 0 by the median of their sizes,
// which is 0.6745 of it and hardly moved by a few that stray; NaN of none.
func Spread(x []float64) float64 {
	sizes := make([]float64, len(x))
	for i := range x {
		sizes[i] = math.Abs(x[i])
	}
	return Median(sizes) / 0.6745
}
