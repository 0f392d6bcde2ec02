package fft

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"pgregory.net/rapid"
)

// frames collects what a Framer visits, real and imaginary parts in a row.
type frames [][]float32

func (f *frames) visit(re, im []float32) { *f = append(*f, slices.Concat(re, im)) }

func (f frames) equal(g frames) bool {
	return slices.EqualFunc(f, g, func(a, b []float32) bool { return slices.Equal(a, b) })
}

// randomCodes makes 8-bit I/Q that uses all codes.
func randomCodes(seed uint64, samples int) []byte {
	random := rand.New(rand.NewPCG(seed, 2))
	iq := make([]byte, 2*samples)
	for i := range iq {
		iq[i] = byte(random.IntN(256))
	}
	return iq
}

func decode(iq []byte) []complex64 {
	x := make([]complex64, len(iq)/2)
	for i := range x {
		x[i] = complex((float32(iq[2*i])-127.5)/128, (float32(iq[2*i+1])-127.5)/128)
	}
	return x
}

// TestFramesDoNotDependOnBlocks: however the stream is split, whether as codes
// or as numbers, every frame is the same to the bit.
func TestFramesDoNotDependOnBlocks(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			n := rapid.SampledFrom([]int{8, 16, 32, 64, 128}).Draw(t, "n")
			hop := rapid.IntRange(1, n).Draw(t, "hop")
			iq := randomCodes(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(0, 6*n).Draw(t, "samples"))
			var whole, split frames
			NewFramer(Hann(n), hop).Write(decode(iq), whole.visit)
			f := NewFramer(Hann(n), hop)
			for len(iq) > 0 {
				block := 2 * rapid.IntRange(1, min(len(iq)/2, 3*n)).Draw(t, "block")
				if rapid.Bool().Draw(t, "as codes") {
					f.WriteU8(iq[:block], split.visit)
				} else {
					f.Write(decode(iq[:block]), split.visit)
				}
				iq = iq[block:]
			}
			if !whole.equal(split) {
				t.Fatalf("%d frames from one block, %d from many, or others", len(whole), len(split))
			}
		})
	})
}

// TestFramesAreWindowedTransforms checks number, order and content of frames
// against a double-precision transform of the same samples.
func TestFramesAreWindowedTransforms(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		const n, hop, samples = 256, 96, 2000
		x := noise(6, samples, 0.01)
		for i := range x {
			x[i] += 0.25 - 0.125i
		}
		var got frames
		window := Hann(n)
		NewFramer(window, hop).Write(x, got.visit)
		if want := (samples-n)/hop + 1; len(got) != want {
			t.Fatalf("%d frames, want %d", len(got), want)
		}
		for i, frame := range got {
			want := windowedTransform(widen(x[i*hop:][:n]), window)
			if e := relativeError(join(frame), want); e > fftTolerance {
				t.Errorf("frame %d: relative error %.2g, want below %.0g", i, e, fftTolerance)
			}
		}
	})
}

// windowedTransform is the definition, in double precision.
func windowedTransform(x []complex128, window []float32) []complex128 {
	var sum float64
	for i := range x {
		sum += float64(window[i])
	}
	for i := range x {
		x[i] *= complex(float64(window[i])/sum, 0)
	}
	return fourier.NewCmplxFFT(len(x)).Coefficients(nil, x)
}

func join(frame []float32) []complex128 {
	n := len(frame) / 2
	y := make([]complex128, n)
	for i := range y {
		y[i] = complex(float64(frame[i]), float64(frame[n+i]))
	}
	return y
}

// TestToneLevels: a tone of −20 dBFS keeps its level in the middle of a bin; between two
// bins Hann loses 8/(3π), −1.42 dB.
func TestToneLevels(t *testing.T) {
	const n, amplitude = 1024, 0.1
	for _, test := range []struct{ bin, want, by float64 }{ // dBFS
		{100, -20, 1e-4},
		{100.5, -21.4236, 1e-3}, // 20·log10(8/(3π)) = −1.4236
	} {
		x := make([]complex64, n)
		for i := range x {
			x[i] = complex64(cmplx.Rect(amplitude, 2*math.Pi*test.bin*float64(i)/n))
		}
		var got frames
		NewFramer(Hann(n), n).Write(x, got.visit)
		level := 20 * math.Log10(cmplx.Abs(join(got[0])[100]))
		if math.Abs(level-test.want) > test.by {
			t.Errorf("bin %v: %.4f dBFS, want %.4f ± %g", test.bin, level, test.want, test.by)
		}
	}
}

func TestFramerResetForgets(t *testing.T) {
	x := noise(7, 100, 1)
	f := NewFramer(Hann(32), 8)
	var first, second frames
	f.Write(x, first.visit)
	f.Reset()
	f.Write(x, second.visit)
	if !first.equal(second) {
		t.Error("frames after Reset differ from those of a new Framer")
	}
}

func TestFramerAllocatesNothing(t *testing.T) {
	f := NewFramer(Hann(1024), 384)
	x, iq, count := noise(8, 5000, 1), randomCodes(8, 5000), 0
	visit := func(re, im []float32) { count++ }
	if got := testing.AllocsPerRun(10, func() { f.Write(x, visit); f.WriteU8(iq, visit) }); got != 0 {
		t.Errorf("%v allocations, want 0", got)
	}
	if count == 0 {
		t.Error("no frame came")
	}
}

func TestFramerRefusesNonsense(t *testing.T) {
	w := Hann(16)
	mustPanic(t, "hop 0", func() { NewFramer(w, 0) })
	mustPanic(t, "hop over the frame", func() { NewFramer(w, 17) })
	codes := randomCodes(1, 2)
	mustPanic(t, "half a sample", func() {
		NewFramer(w, 8).WriteU8(codes[:len(codes)-1], func(re, im []float32) {})
	})
}
