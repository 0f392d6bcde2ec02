package spectrum

import (
	"math"

	"nightfloor/dsp/fft"
)

// A Spectrogram holds the transforms of one stretch of signal: overlapping
// windowed frames (rows) over neighbouring bins (columns).
//
// Re[f*Bins+b] and Im[f*Bins+b] are the transform of frame f in column b, divided by the
// sum of the window: |X|² of a tone in the middle of a bin is the tone's power in full-scale
// units. A power over Resolution is a density. METHODS.md 1.2.
type Spectrogram struct {
	Rate   float64 // samples a second
	N, Hop int     // samples in a frame, and from one frame's start to the next
	Lowest int     // signed bin of column 0: its offset from the centre is Lowest·Rate/N
	Bins   int
	Frames int
	Re, Im []float32 // Frames × Bins
}

// NewSpectrogram makes an empty spectrogram of the usable passband, with room for so many
// half-overlapping Hann frames of n samples.
func NewSpectrogram(rate float64, n, frames int) *Spectrogram {
	third := n / 3
	s := &Spectrogram{Rate: rate, N: n, Hop: n / 2, Lowest: -third, Bins: 2*third + 1}
	s.Re = make([]float32, 0, frames*s.Bins)
	s.Im = make([]float32, 0, frames*s.Bins)
	return s
}

// Reset forgets all frames and keeps their room.
func (s *Spectrogram) Reset() { s.Frames, s.Re, s.Im = 0, s.Re[:0], s.Im[:0] }

// Append adds a frame's transform, given in natural order of the FFT.
func (s *Spectrogram) Append(re, im []float32) {
	negative, positive := s.N+s.Lowest, s.Lowest+s.Bins
	s.Re = append(append(s.Re, re[negative:]...), re[:positive]...)
	s.Im = append(append(s.Im, im[negative:]...), im[:positive]...)
	s.Frames++
}

// Copy adds the frames from…to−1 of a spectrogram of the same shape.
func (s *Spectrogram) Copy(of *Spectrogram, from, to int) {
	s.Re = append(s.Re, of.Re[from*of.Bins:to*of.Bins]...)
	s.Im = append(s.Im, of.Im[from*of.Bins:to*of.Bins]...)
	s.Frames += to - from
}

// Offset gives the frequency of column b against the centre, in Hz.
func (s *Spectrogram) Offset(b int) float64 { return float64(s.Lowest+b) * s.Rate / float64(s.N) }

// Row gives the transform of frame f.
func (s *Spectrogram) Row(f int) (re, im []float32) {
	from, to := f*s.Bins, (f+1)*s.Bins
	return s.Re[from:to], s.Im[from:to]
}

// BinWidth gives the spacing of the columns in Hz.
func (s *Spectrogram) BinWidth() float64 { return s.Rate / float64(s.N) }

// Resolution gives the equivalent noise bandwidth of a column in Hz.
func (s *Spectrogram) Resolution() float64 { return fft.HannENBW * s.BinWidth() }

// Mirror gives the column at the opposite offset from the centre.
func (s *Spectrogram) Mirror(b int) int { return -2*s.Lowest - b }

// Series writes the values of column b by frame. The phase that the bin's own frequency
// gains in a hop, half a turn in odd bins with Hop = N/2, is taken out, so that a tone in
// the middle of the bin keeps its phase.
func (s *Spectrogram) Series(b int, re, im []float32) {
	sign, odd := float32(1), (s.Lowest+b)&1 != 0
	for f := range s.Frames {
		at := f*s.Bins + b
		re[f], im[f] = sign*s.Re[at], sign*s.Im[at]
		if odd {
			sign = -sign
		}
	}
}

// Column gives the column nearest to an offset in Hz.
func (s *Spectrogram) Column(offset float64) int {
	b := int(math.Round(offset/s.BinWidth())) - s.Lowest
	return max(0, min(s.Bins-1, b))
}

// Power gives Σ|X|².
func Power(re, im []float32) (sum float32) {
	im = im[:len(re)]
	for b, r := range re {
		i := im[b]
		sum += r*r + i*i
	}
	return sum
}
