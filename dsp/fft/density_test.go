package fft

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/spectral"
	"github.com/mjibson/go-dsp/window"
)

// densityOf averages the powers of half-overlapping Hann frames of n samples: the two-sided
// density at rate samples a second, −rate/2 first.
func densityOf(x []complex64, n int, rate float64) []float64 {
	w, frames := Hann(n), 0
	density := make([]float64, n)
	NewFramer(w, n/2).Write(x, func(re, im []float32) {
		frames++
		for i := range re {
			density[(i+n/2)%n] += float64(re[i]*re[i] + im[i]*im[i])
		}
	})
	for i := range density {
		density[i] /= float64(frames) * HannENBW * rate / float64(n)
	}
	return density
}

func mean(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func TestDensityOfWhiteNoise(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		// White noise of variance 1e-6 sampled at 100 kHz spreads −60 dBFS over
		// 50 dBHz: −110 dBFS/Hz, whatever the FFT length.
		const want, tol = -110, 0.1 // of 2^18 samples: one sigma is 0.01 dB
		iq := noise(9, 1<<18, 0.5e-6)
		for _, n := range []int{256, 2048, 16384} {
			got := 10 * math.Log10(mean(densityOf(iq, n, 100e3)))
			if math.Abs(got-want) > tol {
				t.Errorf("FFT of %d: %.2f dBFS/Hz, want %d ± %.1f", n, got, want, tol)
			}
		}
	})
}

// TestDensityAgreesWithAnotherLibrary: for real signals a one-sided density is
// twice the two-sided at frequencies between 0 and half the rate.
func TestDensityAgreesWithAnotherLibrary(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		const n, rate, samples = 512, 1000.0, 6000
		x, signal := make([]float64, samples), noise(10, samples, 1)
		for i := range signal {
			signal[i] = complex(real(signal[i])+float32(math.Sin(0.3*float64(i))), 0)
			x[i] = float64(real(signal[i]))
		}
		want, _ := spectral.Pwelch(x, rate, &spectral.PwelchOptions{
			NFFT: n, Noverlap: n / 2, Window: func(n int) []float64 { return window.Hann(n + 1)[:n] },
		})
		got := densityOf(signal, n, rate)
		strongest := slices.Max(want)
		for i := 1; i < n/2; i++ {
			for _, side := range []int{n/2 + i, n/2 - i} {
				// Single precision errs by 1e-6 of the strongest line's amplitude in
				// any bin, and by 1e-6 of the bin's own.
				tol := 4e-6*want[i] + 4e-6*math.Sqrt(want[i]*strongest)
				if math.Abs(2*got[side]-want[i]) > tol {
					t.Errorf("bin %d: twice %.6g, want %.6g", side-n/2, got[side], want[i])
				}
			}
		}
	})
}

// TestDensityAscends: −rate/2 comes first, and a tone below the centre stands
// in the lower half. Its power is its density over ENBW bins.
func TestDensityAscends(t *testing.T) {
	const n, rate, bin, amplitude = 64, 6400.0, -10, 0.5
	x := make([]complex64, 4*n)
	for i := range x {
		x[i] = complex64(cmplx.Rect(amplitude, 2*math.Pi*bin*float64(i)/n))
	}
	density := densityOf(x, n, rate)
	at := n/2 + bin
	if strongest := slices.Index(density, slices.Max(density)); strongest != at {
		t.Fatalf("tone at index %d, want %d", strongest, at)
	}
	got := density[at] * 1.5 * rate / n
	if math.Abs(got-amplitude*amplitude) > 1e-6 { // single precision
		t.Errorf("power %v, want 0.25", got)
	}
}
