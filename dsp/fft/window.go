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

// ENBW gives the equivalent noise bandwidth of a window in bins, from the samples used:
// n·Σw²/(Σw)² [Harris:1978, eq. 11], 1.5 for Hann. A density is a bin's power over
// ENBW·rate/n hertz.
func ENBW(w []float32) float64 {
	var sum, squares float64
	for _, v := range w {
		sum += float64(v)
		squares += float64(v) * float64(v)
	}
	return float64(len(w)) * squares / (sum * sum)
}
