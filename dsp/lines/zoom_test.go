package lines

import (
	"math"
	"testing"

	"nightfloor/dsp/spectrum"
)

// columnOf loads a zoom with tones in one column, by their offsets in Hz and powers, and
// gives a spectrogram of the same shape, without its values.
func columnOf(z *zoom, frames int, tones map[float64]float64) *spectrum.Spectrogram {
	s := &spectrum.Spectrogram{Rate: 75e3, N: 1024, Hop: 512, Bins: 683, Lowest: -341, Frames: frames}
	z.prepare(frames)
	for f := range frames {
		z.re[f], z.im[f] = 0, 0
		for hz, power := range tones {
			sin, cos := math.Sincos(2 * math.Pi * hz * float64(f) * float64(s.Hop) / s.Rate)
			z.re[f] += float32(math.Sqrt(power) * cos)
			z.im[f] += float32(math.Sqrt(power) * sin)
		}
	}
	return s
}

// A fading line spreads; what lies within 8 Hz is its power, what lies beyond is not. Here
// two halves of a line are 5 Hz off, and a tone of 0.3 at 9.8 Hz passes for noise: of its
// power, over 227 bins, 29 bins times 4/3 are subtracted, 0.05. Some 1 % of the line leaves
// the 8 Hz by the taper.
func TestZoomGathersFading(t *testing.T) {
	var z zoom
	s := columnOf(&z, 110, map[float64]float64{-5: 0.5, 5: 0.5, 9.8: 0.3})
	if got := z.measureAt(s, 0).power; math.Abs(got-0.94) > 0.03 {
		t.Errorf("power %.3f, want 0.94 ± 0.03", got)
	}
}

// Near a strong line a peak is a line where it holds more than 0.3 % of the power that was
// subtracted there: three bins from it. Two bins away, where remainders of a skirt appear,
// it takes 5 %.
func TestSkirtResidue(t *testing.T) {
	for _, test := range []struct {
		bins, share float64
		line        bool
	}{{3, 0.004, true}, {3, 0.002, false}, {2, 0.06, true}, {2, 0.04, false}} {
		const frames, column = 72, 2
		var l lineFinder
		s := columnOf(&l.zoom, frames, nil)
		p := &l.patch
		p.first, p.columns, p.frames = 400, 5, frames
		n := p.columns * frames
		p.re, p.im = make([]float32, n), make([]float32, n)
		re, _ := p.column(column)
		for f := range re {
			re[f] = 1
		}
		p.power[column], p.skirts[column] = 1, 1/test.share
		floor := make([]float64, s.Bins)
		centre := s.Offset(p.first+column) + test.bins*s.BinWidth()
		if _, _, ok := l.strongestLeft(s, floor, leastShare(frames), centre); ok != test.line {
			t.Errorf("%v of the skirt, %v bins away: a line %v, want %v", test.share, test.bins, ok, test.line)
		}
	}
}
