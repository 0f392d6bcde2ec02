package fft

import (
	"fmt"
	"math"
)

// Works cited in this file:
//
// [Harris:1978] F. J. Harris, "On the use of windows for harmonic analysis with
// the discrete Fourier transform", Proc. IEEE 66(1), 1978, pp. 51-83.
//
// [DAntona:2006] G. D'Antona, A. Ferrero, Digital Signal Processing for
// Measurement Systems, Springer 2006, pp. 70-72.

// A WindowKind names the weights that a frame gets before its transform.
type WindowKind int

// The windows on offer. What each is for: Hann for floors and carriers side by
// side; BlackmanHarris (four terms, −92 dB) next to strong lines; FlatTop for
// the level of a line anywhere between bins; Hamming and Rectangle to compare.
const (
	Hann WindowKind = iota
	BlackmanHarris
	Rectangle
	Hamming
	FlatTop
)

// cosineTerms gives a_k of w(i) = Σ (−1)^k a_k cos(2πki/n): Hann, Hamming and
// the minimum four-term Blackman-Harris from [Harris:1978], the flat top of five
// terms from [DAntona:2006].
func (k WindowKind) cosineTerms() []float64 {
	switch k {
	case Hann:
		return []float64{0.5, 0.5}
	case BlackmanHarris:
		return []float64{0.35875, 0.48829, 0.14128, 0.01168}
	case Rectangle:
		return []float64{1}
	case Hamming:
		return []float64{0.54, 0.46}
	case FlatTop:
		return []float64{0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368}
	}
	panic(fmt.Sprintf("fft: no window of kind %d", int(k)))
}

// Window gives the n points of a periodic (DFT-even) window: the symmetric
// window of n+1 points without its last, whose zeros fall onto bins.
func Window(kind WindowKind, n int) []float32 {
	terms := kind.cosineTerms()
	w := make([]float32, n)
	for i := range w {
		sum, sign := 0.0, 1.0
		for k, a := range terms {
			sum += sign * a * math.Cos(2*math.Pi*float64(k*i%n)/float64(n))
			sign = -sign
		}
		w[i] = float32(sum)
	}
	return w
}

// ENBW gives the equivalent noise bandwidth of a window in bins, from the
// samples used: n·Σw²/(Σw)² [Harris:1978, eq. 11]; 1 for Rectangle, 1.5 for
// Hann. A density is a bin's power over ENBW·rate/n hertz.
func ENBW(w []float32) float64 {
	var sum, squares float64
	for _, v := range w {
		sum += float64(v)
		squares += float64(v) * float64(v)
	}
	return float64(len(w)) * squares / (sum * sum)
}
