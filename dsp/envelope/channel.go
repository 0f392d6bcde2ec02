package envelope

import (
	"fmt"
	"math"
	"math/bits"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// A Filter takes a stretch of spectrum out of a Spectrogram and gives it
// back as a signal in time.
//
// Half-overlapping Hann windows add up to 1, so that frames transformed back
// and added where they overlap are the signal again; with some bins alone,
// weighed, they are what a filter of that response lets through. The response
// falls as half a cosine over the outer fifths: a brick wall would ring, and a
// burst 20 dB over what follows would hide it for half a millisecond. The signal
// comes out at the lower rate Rate·M/N, M the next power of two, moved so that
// the first bin is at zero.
type Filter struct {
	weights []float32 // of the bins, 1 in the middle
	ENBW    float64   // Σ weights², bins
	fft     *fft.FFT
	workRe  []float32
	workIm  []float32
	re, im  []float32 // the channel in time
	shapes  map[int]float64
}

// channelSlope is the share of a channel's bins over which its response falls, both sides
// together: chosen, for a steeper filter rings (METHODS.md 8.1). channelFill is the noise
// bandwidth that is left of its width: cos⁴ has the mean 3/8 on the slopes.
const (
	channelSlope = 0.4
	channelFill  = 1 - channelSlope*5/8
)

// NewFilter plans channels of bins columns.
func NewFilter(bins int) *Filter {
	if bins < 1 {
		panic(fmt.Sprintf("envelope: channel of %d bins", bins))
	}
	m := max(8, 1<<bits.Len(uint(bins-1)))
	c := &Filter{weights: make([]float32, bins), fft: fft.New(m), workRe: make([]float32, m), workIm: make([]float32, m), shapes: map[int]float64{}}
	slope := channelSlope / 2 * float64(bins)
	for i := range c.weights {
		edge := min(float64(i), float64(bins-1-i)) + 0.5
		w := 0.5 - 0.5*math.Cos(math.Pi*min(1, edge/slope))
		c.weights[i] = float32(w)
		c.ENBW += w * w
	}
	return c
}

// correlation gives |ρ|² of noise in the channel, r of its samples apart.
func (c *Filter) correlation(r int) float64 {
	var re, im float64
	for j, w := range c.weights {
		sin, cos := math.Sincos(2 * math.Pi * float64(j*r) / float64(len(c.workRe)))
		re += float64(w) * float64(w) * cos
		im += float64(w) * float64(w) * sin
	}
	return (re*re + im*im) / (c.ENBW * c.ENBW)
}

// meanShape gives the shape of the gamma distribution that the mean of length
// samples of |y|² follows, y Gaussian noise in the channel: squared mean over
// variance, which is Σ|ρ(i−j)|²/length². Each is computed once.
func (c *Filter) meanShape(length int) float64 {
	if c.shapes[length] == 0 {
		sum := float64(length)
		for r := 1; r < length; r++ {
			sum += 2 * float64(length-r) * c.correlation(r)
		}
		c.shapes[length] = float64(length) * float64(length) / sum
	}
	return c.shapes[length]
}

// Rate gives the channel's samples a second.
func (c *Filter) Rate(s *spectrum.Spectrogram) float64 {
	return s.Rate * float64(len(c.workRe)) / float64(s.N)
}

// Width gives the channel's noise bandwidth in Hz.
func (c *Filter) Width(s *spectrum.Spectrogram) float64 {
	return c.ENBW * s.BinWidth()
}

// Take gives the channel whose lowest column is first, in full-scale units. Its
// sample 0 stands half a frame after the stretch began: of the first and last
// half frames one half of the overlap is missing. The slices hold until the
// next call.
func (c *Filter) Take(s *spectrum.Spectrogram, first int) (re, im []float32) {
	if s.Hop*2 != s.N {
		panic("envelope: Filter needs half-overlapping frames")
	}
	half := len(c.workRe) / 2
	length := (s.Frames + 1) * half
	if cap(c.re) < length {
		c.re, c.im = make([]float32, length), make([]float32, length)
	}
	c.re, c.im = c.re[:length], c.im[:length]
	clear(c.re)
	clear(c.im)
	// Transforms were divided by the window's sum, N/2 for Hann.
	scale := float32(0.5)
	for f := range s.Frames {
		re, im := s.Row(f)
		c.back(re[first:first+len(c.weights)], im[first:first+len(c.weights)])
		addScaled(c.re[f*half:], c.workRe, scale)
		addScaled(c.im[f*half:], c.workIm, scale)
		// Bin k gains k half turns from frame to frame; the channel's own
		// bins count from first.
		if (s.Lowest+first)&1 != 0 {
			scale = -scale
		}
	}
	if s.Frames < 2 {
		return c.re[:0], c.im[:0]
	}
	return c.re[half : length-half], c.im[half : length-half]
}

// Bins gives how many columns a channel has.
func (c *Filter) Bins() int { return len(c.weights) }

// FlatBins gives how many columns a channel needs that passes flat Hz alike.
func FlatBins(flat, binWidth float64) int {
	return int(math.Ceil(flat / (1 - channelSlope) / binWidth))
}

// Length gives how many samples of a channel s holds.
func (c *Filter) Length(s *spectrum.Spectrogram) int {
	return max(0, s.Frames-1) * len(c.workRe) / 2
}

// Powers writes the power |y|² of the channel whose lowest column is first, length
// samples of it, and gives their mean.
func (c *Filter) Powers(to []float32, s *spectrum.Spectrogram, first int) (mean float64) {
	re, im := c.Take(s, first)
	sum := 0.0
	im, to = im[:len(re)], to[:len(re)]
	for i, r := range re {
		p := r*r + im[i]*im[i]
		to[i] = p
		sum += float64(p)
	}
	return sum / float64(max(1, len(re)))
}

// back transforms bins to time: an inverse transform is a forward one with real
// and imaginary parts exchanged before and after.
func (c *Filter) back(re, im []float32) {
	clear(c.workRe)
	clear(c.workIm)
	for j, w := range c.weights {
		c.workRe[j], c.workIm[j] = w*re[j], w*im[j]
	}
	c.fft.Transform(c.workIm, c.workRe)
}

// addScaled adds scale·from to to.
func addScaled(to, from []float32, scale float32) {
	to = to[:len(from)]
	for i, v := range from {
		to[i] += scale * v
	}
}
