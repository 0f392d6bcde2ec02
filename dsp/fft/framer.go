package fft

import "fmt"

// FramerOptions say how a stream is cut.
type FramerOptions struct {
	N, Hop int       // samples in a frame (a power of two, 8 or more); from one start to the next, 1 ≤ Hop ≤ N
	Window []float32 // N weights
}

// A Framer cuts a stream of samples into overlapping windowed frames and
// transforms them. The result does not depend on the lengths of the blocks in
// which the stream arrives. It allocates nothing after NewFramer and is not for
// concurrent use.
type Framer struct {
	n, hop int
	window []float32 // divided by its sum
	fft    *FFT

	// The stream's tail: samples start … end−1 of the past arrays are the next frame so far.
	// They move to the front where the frame would pass the arrays' end.
	pastRe, pastIm   []float32
	start, end       int
	frameRe, frameIm []float32
}

// pastFrames is the length of the past arrays in frames. With fewer the tail is moved more
// often, with more it leaves the cache. Chosen; it changes no result.
const pastFrames = 2

// NewFramer makes a Framer; it panics where N, Hop and the window's length do not fit.
func NewFramer(o FramerOptions) *Framer {
	if len(o.Window) != o.N || o.Hop < 1 || o.Hop > o.N {
		panic(fmt.Sprintf("fft: frames of %d, hop %d, window of %d points", o.N, o.Hop, len(o.Window)))
	}
	var sum float64
	for _, w := range o.Window {
		sum += float64(w)
	}
	f := &Framer{n: o.N, hop: o.Hop, fft: New(o.N), window: make([]float32, o.N)}
	f.pastRe, f.pastIm = splitArrays(pastFrames * o.N)
	f.frameRe, f.frameIm = splitArrays(o.N)
	for i, w := range o.Window {
		f.window[i] = float32(float64(w) / sum)
	}
	return f
}

// Reset forgets the stream so far; the next sample opens a first frame.
func (f *Framer) Reset() { f.start, f.end = 0, 0 }

// Write takes the next samples of the stream, any number, and calls visit once
// for each frame that they complete, in order. re and im hold the transform in
// natural FFT order divided by the window's sum: a tone of amplitude 1 in the
// middle of a bin stands at |X| = 1. They are valid, and may be changed, until
// visit returns.
func (f *Framer) Write(x []complex64, visit func(re, im []float32)) {
	for len(x) > 0 {
		re, im := f.room(len(x))
		splitParts(re, im, x[:len(re)])
		x = x[len(re):]
		f.advance(len(re), visit)
	}
}

// WriteU8 does what Write does for interleaved 8-bit I/Q of an even number of
// bytes; code c stands for (c − 127.5)/128.
func (f *Framer) WriteU8(iq []byte, visit func(re, im []float32)) {
	if len(iq)%2 != 0 {
		panic(fmt.Sprintf("fft: %d bytes of I/Q: half a sample", len(iq)))
	}
	for len(iq) > 0 {
		re, im := f.room(len(iq) / 2)
		unpackU8(re, im, iq[:2*len(re)])
		iq = iq[2*len(re):]
		f.advance(len(re), visit)
	}
}

// room gives the place for the next samples of the current frame, at most want of them.
func (f *Framer) room(want int) (re, im []float32) {
	if f.start+f.n > len(f.pastRe) {
		copy(f.pastRe, f.pastRe[f.start:f.end])
		copy(f.pastIm, f.pastIm[f.start:f.end])
		f.start, f.end = 0, f.end-f.start
	}
	to := min(f.end+want, f.start+f.n)
	return f.pastRe[f.end:to], f.pastIm[f.end:to]
}

// advance counts fresh samples in and hands a completed frame to visit.
func (f *Framer) advance(fresh int, visit func(re, im []float32)) {
	f.end += fresh
	if f.end-f.start < f.n {
		return
	}
	f.fft.transformWeighed(f.frameRe, f.frameIm, f.pastRe[f.start:f.end], f.pastIm[f.start:f.end], f.window)
	f.start += f.hop
	visit(f.frameRe, f.frameIm)
}

// fromU8 holds (c − 127.5)/128 for each code c; exact in single precision.
var fromU8 = func() (t [256]float32) {
	for c := range t {
		t[c] = (float32(c) - 127.5) / 128
	}
	return t
}()

// splitParts splits complex numbers into real and imaginary parts.
func splitParts(re, im []float32, x []complex64) {
	im, x = im[:len(re)], x[:len(re)]
	for i := splitVector(re, im, x); i < len(re); i++ {
		re[i], im[i] = real(x[i]), imag(x[i])
	}
}

// unpackU8 splits interleaved codes into full-scale units.
func unpackU8(re, im []float32, iq []byte) {
	im = im[:len(re)]
	for i := unpackU8Vector(re, im, iq); i < len(re); i++ {
		pair := iq[2*i:][:2]
		re[i], im[i] = fromU8[pair[0]], fromU8[pair[1]]
	}
}
