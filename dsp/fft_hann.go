package dsp

import "math"

// hannPower gives the power response of a Hann window, offset in bins, 1 at 0.
func hannPower(m float64) float64 {
	w := hannResponse(m)
	return w * w
}

// hannResponse gives the amplitude response of a Hann window about its middle,
// offset in bins, 1 at 0: W(m) = sinc(m)/(1 − m²).
func hannResponse(m float64) float64 {
	switch a := math.Abs(m); {
	case a < 1e-6:
		return 1
	case math.Abs(a-1) < 1e-6:
		return 0.5
	default:
		return math.Sin(math.Pi*a) / (math.Pi * a * (1 - a*a))
	}
}

// binCorrelation is by how much the sum over neighbouring Hann bins scatters
// more than independent bins would: 1 + 2·(4/9 + 1/36).
const binCorrelation = 1 + 2*(4.0/9+1.0/36)

// binCorrelated is the correlation of the powers of two Hann bins d apart.
func binCorrelated(d int) float64 {
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

// skirt gives how many bins from a line, over times the noise in a bin, its
// Hann skirts have sunk to a hundredth of the noise: they fall as 1/(π m³).
func skirt(over float64) float64 {
	return max(2.5, math.Cbrt(10*math.Sqrt(max(0, over))/math.Pi)+0.5)
}

// overlapLoss is by how much fewer independent looks half-overlapping Hann
// frames are worth: 1 + 2·(1/6)² [Welch:1967].
const overlapLoss = 1 + 2.0/36
