package fft

import (
	"fmt"
	"math"
	"math/bits"
)

// An FFT transforms complex frames of one length, forward and unnormalised:
// X[k] = Σ x[i]·exp(−2πj·ik/n). It computes in single precision on split
// arrays, allocates nothing after New, and is not for concurrent use.
//
// The algorithm is Stockham's autosort of radix 4 [VanLoan:1992, 1.7 and 2.4]: every stage
// reads one pair of arrays and writes another in order, so that no bit reversal
// is needed. The last stage, of radix 4 or 2, has no twiddle factors and can
// work in place, so that the result always ends where the samples were.
type FFT struct {
	n              int
	stages         []stage // all but the last
	lastRadix      int     // 4 or 2
	workRe, workIm []float32
}

// A stage splits transforms of length 4·quarter, interleaved stride-fold,
// into four times as many of length quarter.
type stage struct {
	quarter, stride int
	pitch           int       // from one row of twiddles to the next
	twiddles        []float32 // six rows: re and im of w, of w², of w³ for each p < quarter; w = exp(−2πj·p/(4·quarter))
}

// twiddlePadding is added to each row of twiddles, so that vector code may load eight from
// any place in it.
const twiddlePadding = 8

// New plans transforms of n points; n is a power of two, 8 or more.
func New(n int) *FFT {
	if n < 8 || n&(n-1) != 0 {
		panic(fmt.Sprintf("fft: FFT of %d points: not a power of two of 8 or more", n))
	}
	f := &FFT{n: n, lastRadix: 4}
	f.workRe, f.workIm = splitArrays(n)
	if bits.TrailingZeros(uint(n))%2 == 1 {
		f.lastRadix = 2
	}
	for length, stride := n, 1; length > f.lastRadix; length, stride = length/4, stride*4 {
		f.stages = append(f.stages, newStage(length, stride))
	}
	return f
}

// newStage computes the twiddle factors of the stage in double precision.
func newStage(length, stride int) stage {
	s := stage{quarter: length / 4, stride: stride, pitch: length/4 + twiddlePadding}
	s.twiddles = make([]float32, 6*s.pitch)
	for p := range s.quarter {
		for k := 1; k <= 3; k++ {
			sin, cos := math.Sincos(-2 * math.Pi * float64(k*p) / float64(length))
			s.twiddles[(2*k-2)*s.pitch+p] = float32(cos)
			s.twiddles[(2*k-1)*s.pitch+p] = float32(sin)
		}
	}
	return s
}

// Len gives the number of points.
func (f *FFT) Len() int { return f.n }

// Transform replaces x = re + j·im, n points, by its transform in natural
// order: X[0] is the mean's bin, X[n/2] half the sample rate.
func (f *FFT) Transform(re, im []float32) {
	if len(re) != f.n || len(im) != f.n {
		panic(fmt.Sprintf("fft: FFT of %d points given %d and %d", f.n, len(re), len(im)))
	}
	f.stages[0].run(re, im, f.workRe, f.workIm)
	f.finish(re, im)
}

// transformWeighed writes the transform of from·window, n points of each, to re + j·im.
// Done with the first stage, the weighing costs no memory traffic of its own.
func (f *FFT) transformWeighed(re, im, fromRe, fromIm, window []float32) {
	if runFirstWeighedVector(&f.stages[0], fromRe, fromIm, f.workRe, f.workIm, window) {
		f.finish(re, im)
		return
	}
	weigh(re, fromRe, window)
	weigh(im, fromIm, window)
	f.Transform(re, im)
}

// weigh writes from·window.
func weigh(to, from, window []float32) {
	from, window = from[:len(to)], window[:len(to)]
	for i := range to {
		to[i] = from[i] * window[i]
	}
}

// finish runs all stages after the first, from the work arrays to re and im.
func (f *FFT) finish(re, im []float32) {
	fromRe, fromIm, toRe, toIm := f.workRe, f.workIm, re, im
	for i := 1; i < len(f.stages); i++ {
		f.stages[i].run(fromRe, fromIm, toRe, toIm)
		fromRe, fromIm, toRe, toIm = toRe, toIm, fromRe, fromIm
	}
	if f.lastRadix == 4 {
		lastRadix4(fromRe, fromIm, re, im)
	} else {
		lastRadix2(fromRe, fromIm, re, im)
	}
}

// arrayGap is the gap between split arrays, in points. Arrays whose lengths are powers of two
// and that lie next to each other compete for the same places of the cache; with the gap a
// transform of 16384 points was 1.2 times as fast. METHODS.md 2.4; no test holds it.
const arrayGap = 256

// splitArrays allocates a pair of arrays of n points with a gap between them.
func splitArrays(n int) (re, im []float32) {
	both := make([]float32, 2*n+2*arrayGap)
	return both[:n:n], both[n+arrayGap:][:n:n]
}
