package fft

import (
	"math"
	"slices"
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

func TestMeanOfIsPrecise(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		// 0.1 is no binary fraction; the mean of equal values is that value, and a
		// single large one among 1001 counts with its 1001st.
		x := slices.Repeat([]float32{0.1}, 1001)
		if got := meanOf(x); got != 0.1 {
			t.Errorf("mean of 0.1s is %v", got)
		}
		x[1000] += 1001
		if got := float64(meanOf(x)); math.Abs(got-1.1) > 1.1*6e-8*2 { // rounding of 1001.1 and of the result
			t.Errorf("mean is %v, want 1.1", got)
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
		o := WelchOptions{N: n, Hop: n / 2, Window: Hann, RemoveMean: true}
		useVectors = true
		vectors := welchOf(o, x).Density(1)
		useVectors = false
		loops := welchOf(o, x).Density(1)
		total := mean(loops)
		for i, want := range loops {
			// Single precision errs by 1e-6 of the mean amplitude in any bin.
			if tol := 4e-6*want + 4e-6*math.Sqrt(want*total) + 1e-12*total; math.Abs(vectors[i]-want) > tol {
				t.Fatalf("%d points, bin %d: %v with vectors, %v without", n, i-n/2, vectors[i], want)
			}
		}
	}
}
