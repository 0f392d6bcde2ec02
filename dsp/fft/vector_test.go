package fft

import (
	"math"
	"testing"
)

// bothWays runs a test with the vector code, where this processor has any, and
// with the loops in Go.
func bothWays(t *testing.T, test func(t *testing.T)) {
	before := useVectors
	defer func() { useVectors = before }()
	useVectors = false
	t.Run("Go", test)
	if haveVectors {
		useVectors = true
		t.Run("vectors", test)
	}
}

func TestUnpackedCodesAreExact(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		// All codes in both places, and an odd length for the last samples.
		iq := make([]byte, 2*261)
		for i := range iq {
			iq[i] = byte(i/2 + 77*(i%2))
		}
		re, im := make([]float32, 261), make([]float32, 261)
		unpackU8(re, im, iq)
		for i := range re {
			wantRe, wantIm := (float32(iq[2*i])-127.5)/128, (float32(iq[2*i+1])-127.5)/128
			if re[i] != wantRe || im[i] != wantIm {
				t.Fatalf("codes %d, %d: %v, %v, want %v, %v", iq[2*i], iq[2*i+1], re[i], im[i], wantRe, wantIm)
			}
		}
	})
}

func TestSplitParts(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		x := noise(17, 261, 1)
		re, im := make([]float32, len(x)), make([]float32, len(x))
		splitParts(re, im, x)
		for i, want := range x {
			if complex(re[i], im[i]) != want {
				t.Fatalf("number %d: %v, want %v", i, complex(re[i], im[i]), want)
			}
		}
	})
}

// TestVectorsAgreeWithLoops: both ways compute the same frames but for rounding,
// the last bins, which the vectors leave to the loop, included.
func TestVectorsAgreeWithLoops(t *testing.T) {
	if !haveVectors {
		t.Skip("no vector code for this processor")
	}
	defer func() { useVectors = true }()
	for _, n := range fftSizes {
		x := noise(16, 3*n, 0.01)
		useVectors = true
		vectors := densityOf(x, n, 1)
		useVectors = false
		loops := densityOf(x, n, 1)
		total := mean(loops)
		for i, want := range loops {
			// Single precision errs by 1e-6 of the mean amplitude in any bin.
			if tol := 4e-6*want + 4e-6*math.Sqrt(want*total) + 1e-12*total; math.Abs(vectors[i]-want) > tol {
				t.Fatalf("%d points, bin %d: %v with vectors, %v without", n, i-n/2, vectors[i], want)
			}
		}
	}
}

// TestAddPowers: vectors and loops round alike, so that the sums are equal to the bit.
func TestAddPowers(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		x := noise(18, 261, 1)
		sum, re, im := make([]float32, 261), make([]float32, 261), make([]float32, 261)
		for i, v := range x {
			re[i], im[i], sum[i] = real(v), imag(v), float32(i)
		}
		AddPowers(sum, re, im)
		for i, v := range x {
			square, other := real(v)*real(v), imag(v)*imag(v) // stored, so that no processor fuses them
			power := square + other
			if want := float32(i) + power; sum[i] != want {
				t.Fatalf("point %d: %v, want %v", i, sum[i], want)
			}
		}
	})
}
