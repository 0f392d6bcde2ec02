package fft

import "math"

// Hann gives the n points of the periodic (DFT-even) Hann window: the symmetric window of
// n+1 points without its last, whose zeros fall onto bins.
func Hann(n int) []float32 {
	w := make([]float32, n)
	for i := range w {
		w[i] = float32(0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n)))
	}
	return w
}

// HannENBW is the equivalent noise bandwidth of a periodic Hann window in bins, n·Σw²/(Σw)²
// [Harris:1978, eq. 11]. A density is a bin's power over HannENBW·rate/n hertz. TestENBW.
const HannENBW = 1.5

// HannPower gives the power response of a bin to a tone m bins from its middle, 1 at 0.
func HannPower(m float64) float64 {
	w := HannResponse(m)
	return w * w
}

// HannResponse gives the amplitude response of a bin to a tone m bins from its middle, 1 at 0:
// W(m) = sin(πm)/(πm(1 − m²)), the transform of ½ − ½·cos [Harris:1978, pp. 51-83].
// METHODS.md 2.3.
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

// BinExcess is the variance of a sum over many neighbouring Hann bins of noise, over that of
// as many independent bins: the sum of BinCorrelation over all distances. METHODS.md 3.3.
const BinExcess = 1 + 2*(4.0/9+1.0/36)

// BinCorrelation gives the correlation of the powers of noise in two Hann bins d apart: the
// square of the amplitudes' 2/3 and 1/6, from the transform of the squared window.
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

// HannSkirt gives the distance in bins from a line, over times the noise in a bin, at which
// its skirts have fallen to a hundredth of the noise: they fall as 1/(π·m³) in amplitude. Half
// a bin is added for the line's place in its bin, and 2.5 bins, the main lobe and half a bin,
// are the least. METHODS.md 2.3; TestHannSkirt.
func HannSkirt(over float64) float64 {
	return max(2.5, math.Cbrt(10*math.Sqrt(max(0, over))/math.Pi)+0.5)
}

// OverlapLoss is the number of half-overlapping Hann frames that are worth one independent
// frame: 1 + 2·(1/6)², 1/6 the correlation of the amplitudes [Welch:1967, pp. 70-73].
// METHODS.md 3.2.
const OverlapLoss = 1 + 2.0/36
