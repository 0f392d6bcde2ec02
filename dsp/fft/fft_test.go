package fft

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	gofft "github.com/mjibson/go-dsp/fft"
	"gonum.org/v1/gonum/dsp/fourier"

	"nightfloor/dsp/dsptest"
)

// fftSizes are all sizes with oracles beside them.
var fftSizes = []int{8, 16, 32, 64, 128, 256, 512, 1024, 2048, 4096, 8192, 16384, 32768, 65536}

// fftTolerance bounds the rms error of a single-precision transform against the
// rms of its result. A rounding errs by 2^−24/√3 = 3.4e-8 rms; some three of them
// in each of at most eight stages of radix 4 add up like noise to 1.7e-7, and
// the roundings of twiddle factors to as much again: 2.4e-7 at 65536 points. A
// single wrong twiddle factor or exchanged pair costs far more.
const fftTolerance = 3e-7

var seeds = dsptest.FreshSeeds()

// noise makes white Gaussian noise, each component of the given variance.
func noise(seed uint64, n int, variance float64) []complex64 {
	random := rand.New(rand.NewPCG(seed+seeds(), 1))
	sigma := math.Sqrt(variance)
	x := make([]complex64, n)
	for i := range x {
		x[i] = complex(float32(sigma*random.NormFloat64()), float32(sigma*random.NormFloat64()))
	}
	return x
}

func split(x []complex64) (re, im []float32) {
	re, im = make([]float32, len(x)), make([]float32, len(x))
	for i, v := range x {
		re[i], im[i] = real(v), imag(v)
	}
	return re, im
}

func widen(x []complex64) []complex128 {
	y := make([]complex128, len(x))
	for i, v := range x {
		y[i] = complex128(v)
	}
	return y
}

// transform gives the transform of x through an FFT of its length.
func transform(x []complex64) []complex128 {
	re, im := split(x)
	New(len(x)).Transform(re, im)
	y := make([]complex128, len(x))
	for i := range y {
		y[i] = complex(float64(re[i]), float64(im[i]))
	}
	return y
}

// relativeError gives the rms of got − want over the rms of want.
func relativeError(got, want []complex128) float64 {
	var wrong, right float64
	for i := range want {
		d := got[i] - want[i]
		wrong += real(d)*real(d) + imag(d)*imag(d)
		right += real(want[i])*real(want[i]) + imag(want[i])*imag(want[i])
	}
	return math.Sqrt(wrong / right)
}

func TestTransformAgreesWithOtherLibraries(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range fftSizes {
			x := noise(uint64(n), n, 1)
			got := transform(x)
			for _, oracle := range []struct {
				name string
				want []complex128
			}{
				{"gonum", fourier.NewCmplxFFT(n).Coefficients(nil, widen(x))},
				{"go-dsp", gofft.FFT(widen(x))},
			} {
				if e := relativeError(got, oracle.want); e > fftTolerance {
					t.Errorf("%d points: relative error against %s %.2g, want below %.0g", n, oracle.name, e, fftTolerance)
				}
			}
		}
	})
}

// TestTransformKeepsPower is Parseval: Σ|X|² = n·Σ|x|².
func TestTransformKeepsPower(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range fftSizes {
			x := noise(2, n, 1)
			var before, after float64
			for i, y := range transform(x) {
				after += real(y)*real(y) + imag(y)*imag(y)
				before += real(complex128(x[i]) * cmplx.Conj(complex128(x[i])))
			}
			// Errors of fftTolerance in amplitude, of random sign, hardly move a sum.
			if math.Abs(after/(float64(n)*before)-1) > fftTolerance {
				t.Errorf("%d points: power after over before %.9f, want 1", n, after/(float64(n)*before))
			}
		}
	})
}

func TestTransformIsLinear(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range fftSizes {
			x, y, mix := noise(3, n, 1), noise(4, n, 1), make([]complex64, n)
			const a, b = 0.75 + 0.5i, -1.5 + 0.25i
			for i := range mix {
				mix[i] = a*x[i] + b*y[i]
			}
			tx, ty, want := transform(x), transform(y), make([]complex128, n)
			for i := range want {
				want[i] = a*tx[i] + b*ty[i]
			}
			// Two roundings more than a transform alone.
			if e := relativeError(transform(mix), want); e > 2*fftTolerance {
				t.Errorf("%d points: relative error %.2g, want below %.0g", n, e, 2*fftTolerance)
			}
		}
	})
}

// TestTransformOfShiftedTone: exp(2πj·k·(i−d)/n) has n·exp(−2πj·k·d/n) in bin k
// and nothing elsewhere.
func TestTransformOfShiftedTone(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range fftSizes {
			for _, k := range []int{0, 1, n/4 + 1, n / 2, n - 3} {
				const d = 3
				x, want := make([]complex64, n), make([]complex128, n)
				for i := range x {
					x[i] = complex64(cmplx.Rect(1, 2*math.Pi*float64(k*(i-d)%n)/float64(n)))
				}
				want[k] = cmplx.Rect(float64(n), -2*math.Pi*float64(k*d%n)/float64(n))
				if e := relativeError(transform(x), want); e > fftTolerance {
					t.Errorf("%d points, tone in bin %d: relative error %.2g, want below %.0g", n, k, e, fftTolerance)
				}
			}
		}
	})
}

func TestTransformAllocatesNothing(t *testing.T) {
	for _, n := range []int{8, 4096, 8192} {
		f := New(n)
		re, im := split(noise(5, n, 1))
		if got := testing.AllocsPerRun(10, func() { f.Transform(re, im) }); got != 0 {
			t.Errorf("%d points: %v allocations, want 0", n, got)
		}
	}
}

func TestNewFFTRefusesOtherLengths(t *testing.T) {
	for _, n := range []int{-8, 0, 1, 4, 12, 1000} {
		mustPanic(t, fmt.Sprintf("FFT of %d points", n), func() { New(n) })
	}
	mustPanic(t, "frame of another length", func() { New(16).Transform(make([]float32, 8), make([]float32, 16)) })
}

func mustPanic(t *testing.T, what string, f func()) {
	t.Helper()
	defer func() {
		if recover() == nil {
			t.Errorf("%s: no panic", what)
		}
	}()
	f()
}
