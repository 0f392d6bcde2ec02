package spectrum

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/fft"
)

// The halves share samples only where one's turn meets the other's. The powers of
// neighbouring frames correlate by 1/36, so that with turns of L frames the halves correlate
// by 2/36/L: 0.014 with four, 0.028 with two, 0.056 with one. Over 4 times 43,691 columns,
// whose neighbours correlate by 4/9, that is known to 0.003.
func TestHalvesAreIndependent(t *testing.T) {
	dsptest.SkipIfShort(t)
	const rate, n, frames = 1e6, 65536, 64
	const mean = 1e-10 * 1.5 * rate / n
	var xy, xx, yy float64
	for seed := range uint64(4) {
		a := whiteAverages(seed, rate, n, frames, mean)
		for b, p := range a.Halves[0] {
			x, y := p/mean-1, a.Halves[1][b]/mean-1
			xy, xx, yy = xy+x*y, xx+x*x, yy+y*y
		}
	}
	if r := xy / math.Sqrt(xx*yy); math.Abs(r-0.014) > 0.009 {
		t.Errorf("the halves correlate by %.4f, want 0.014 ± 0.009", r)
	}
}

// whiteAverages averages frames of white noise with a mean power in each column.
func whiteAverages(seed uint64, rate float64, n, frames int, mean float64) *Averages {
	s := NewSpectrogram(rate, n, 1)
	gain := make([]float64, s.Bins)
	for b := range gain {
		gain[b] = 1
	}
	a, f := NewAverages(s.Bins, gain), 0
	x := dsptest.New(seed, rate, 0).Noise(mean / 1.5 / rate * float64(n)).Samples((frames + 1) * n / 2)
	fft.NewFramer(fft.Hann(s.N), n/2).Write(x, func(re, im []float32) {
		s.Reset()
		s.Append(re, im)
		re, im = s.Row(0)
		a.Add(f, re, im, Kept)
		f++
	})
	a.CloseChunk(make([]float64, s.Bins))
	a.Average(false)
	return a
}
