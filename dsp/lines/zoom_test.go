package lines

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
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

// What a zoom measures where there is no line scatters about zero by quiet. Of 1135 powers the mean
// pull is known to 0.03 and the standard deviation to 2 %, three of which are allowed.
func TestQuietIsTheScatterOfNothing(t *testing.T) {
	const rate, n, frames = 75e3, 1024, 72
	for _, bins := range []float64{0, 0.3, 0.5} {
		var z zoom
		var sum, squares, quiet, count float64
		for seed := range uint64(5) {
			s := hannSpectrogram(dsptest.New(seed, rate, 0).Noise(1e-9).Samples(n/2*(frames+1)), rate, n)
			for b := 1; b < s.Bins-1; b += 3 { // columns next to each other share noise
				z.load(s, b)
				l := z.measureAt(s, bins*s.BinWidth())
				sum, squares, quiet, count = sum+l.power/l.quiet, squares+l.power*l.power, quiet+l.quiet*l.quiet, count+1
			}
		}
		if ratio := math.Sqrt(squares / quiet); math.Abs(ratio-1) > 3/math.Sqrt(2*count) || math.Abs(sum/count) > 3/math.Sqrt(count) {
			t.Errorf("%.1f bins from the middle: mean pull %.3f, powers scatter by %.3f of quiet, want 0 and 1, of %.0f", bins, sum/count, ratio, count)
		}
	}
}

// A line leaves quiet as it is, up to 42 dB over quiet, while sigma grows. The column holds
// 1e-9·73.2 Hz·1.5 of noise in 72 cells, at 0.2 bins from its middle 1.27 times as much a cell; 8.2 cells
// are gathered, whose sum scatters by √8.2, and 1.06 times that since what is beside them is known no
// better; over what is captured, 0.98, and the column's response, 0.95: 6.3e-9.
func TestQuietBesideLines(t *testing.T) {
	const rate, n, frames, bin = 75e3, 1024, 72, 75e3 / 1024.0
	mean := func(level float64) (quiet, sigma float64) {
		var z zoom
		for seed := range uint64(10) {
			at := (137.2 + 9*float64(seed)) * bin
			s := hannSpectrogram(dsptest.New(seed, rate, 0).Noise(1e-9).Tone(at, level, 1).Samples(n/2*(frames+1)), rate, n)
			b := s.Column(at)
			z.load(s, b)
			l := z.measureAt(s, at-s.Offset(b))
			quiet, sigma = quiet+l.quiet/10, sigma+l.sigma/10
		}
		return quiet, sigma
	}
	none, before := mean(-150)
	if math.Abs(none/6.3e-9-1) > 0.12 { // ten times 64 cells beside know it to 4 %
		t.Errorf("quiet of nothing %.3g, want 6.3e-9", none)
	}
	for _, level := range []float64{-70, -55, -40} {
		quiet, sigma := mean(level)
		if math.Abs(quiet/none-1) > 0.03 || sigma < 2*before {
			t.Errorf("%.0f dBFS: quiet %.3g, sigma %.3g; without the line %.3g, %.3g", level, quiet, sigma, none, before)
		}
		before = sigma
	}
}
