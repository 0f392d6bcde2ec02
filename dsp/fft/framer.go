package fft

import "fmt"

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

// NewFramer makes a Framer of frames as long as the window, a power of two of 8 or more, hop
// samples from the start of one to that of the next; it panics unless 1 ≤ hop ≤ len(window).
func NewFramer(window []float32, hop int) *Framer {
	n := len(window)
	if hop < 1 || hop > n {
		panic(fmt.Sprintf("fft: frames of %d, hop %d", n, hop))
	}
	var sum float64
	for _, w := range window {
		sum += float64(w)
	}
	f := &Framer{n: n, hop: hop, fft: New(n), window: make([]float32, n)}
	f.pastRe, f.pastIm = splitArrays(pastFrames * n)
	f.frameRe, f.frameIm = splitArrays(n)
	for i, w := range window {
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

// splitParts splits complex numbers into real and imaginary parts.
func splitParts(re, im []float32, x []complex64) {
	im, x = im[:len(re)], x[:len(re)]
	for i := splitVector(re, im, x); i < len(re); i++ {
		re[i], im[i] = real(x[i]), imag(x[i])
	}
}

// unpackU8 splits interleaved codes into full-scale units, exactly.
func unpackU8(re, im []float32, iq []byte) {
	im = im[:len(re)]
	for i := unpackU8Vector(re, im, iq); i < len(re); i++ {
		pair := iq[2*i:][:2]
		re[i], im[i] = (float32(pair[0])-127.5)/128, (float32(pair[1])-127.5)/128
	}
}

// AddPowers adds the power re² + im² of each point to sum, in single precision.
func AddPowers(sum, re, im []float32) {
	sum, im = sum[:len(re)], im[:len(re)]
	for i := addPowersVector(sum, re, im); i < len(re); i++ {
		sum[i] += re[i]*re[i] + im[i]*im[i]
	}
}
