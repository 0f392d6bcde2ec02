package reports

import "math"

// medianError is how many times the standard error of a mean that of a median is.
const medianError = 1.2533

// fromDecibel gives the ratio of powers of so many dB.
func fromDecibel(x float64) float64 { return math.Pow(10, x/10) }

// gridPoint gives between which two of n points of a grid a place lies, and how far towards the
// second.
func gridPoint(at float64, n int) (index int, share float64) {
	at = max(0, min(float64(n-1), at))
	index = min(int(at), n-2)
	return index, at - float64(index)
}

// relative gives a small error in dB as a share of the power.
func relative(dB float64) float64 { return dB * math.Ln10 / 10 }

// finite tells whether x is a number, and not infinite.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// decibel gives a ratio of powers in dB.
func decibel(x float64) float64 { return 10 * math.Log10(x) }

// meanVariance gives mean and variance, the latter 0 of fewer than two.
func meanVariance(x []float64) (mean, variance float64) {
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
