package fft

import "math"

// HannPower gives the power response of a Hann window, offset in bins, 1 at 0.
func HannPower(m float64) float64 {
	w := HannResponse(m)
	return w * w
}

// HannResponse gives the amplitude response of a Hann window about its middle,
// offset in bins, 1 at 0: W(m) = sinc(m)/(1 − m²).
func HannResponse(m float64) float64 {
	switch a := math.Abs(m); {
	case a < 1e-6:
		return 1
	case math.Abs(a-1) < 1e-6:
		return 0.5
	default:
		return math.Sin(math.Pi*a) / (math.Pi * a * (1 - a*a))
	}
}

// BinExcess is how many times the variance of a sum over neighbouring Hann bins is
// that of as many independent ones: 1 + 2·(4/9 + 1/36).
const BinExcess = 1 + 2*(4.0/9+1.0/36)

// BinCorrelation is the correlation of the powers of two Hann bins d apart.
func BinCorrelation(d int) float64 {
	switch d {
	case 0:
		return 1
	case 1, -1:
		return 4.0 / 9
	case 2, -2:
		return 1.0 / 36
	}
	return 0
}

// HannSkirt gives how many bins from a line whose power is over times that of the
// noise in a bin its skirts have sunk to a hundredth of the noise: they fall as 1/(π m³).
func HannSkirt(over float64) float64 {
	return max(2.5, math.Cbrt(10*math.Sqrt(max(0, over))/math.Pi)+0.5)
}

// OverlapLoss is by how much fewer independent looks half-overlapping Hann
// frames are worth: 1 + 2·(1/6)² [Welch:1967].
const OverlapLoss = 1 + 2.0/36
