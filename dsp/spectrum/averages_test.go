package spectrum

import (
	"math"
	"testing"
)

// TestLongSumsStayExact: an hour at 2.4 MS/s in frames of 16384 at half overlap is 1.05
// million frames; the mean of that many equal ones is the one. A sum in single precision
// would stop growing long before.
func TestLongSumsStayExact(t *testing.T) {
	const chunk = 146 // frames of half a second
	chunks := 1_050_000 / chunk
	if testing.Short() {
		chunks = 100_000 / chunk // a sum in single precision would be 1e-4 off by then
	}
	re, im := []float32{0.1, 3, 0, 1e-5}, []float32{0.7, 0.3, 0.2, 1e-6}
	gain, power := []float64{1, 1, 1, 2}, make([]float64, 4)
	a := NewAverages(4, gain)
	for c := range chunks {
		for f := range chunk {
			a.Add(c*chunk+f, re, im, Kept)
		}
		a.CloseChunk(power)
	}
	a.Average(false)
	if a.Total() != chunks*chunk {
		t.Errorf("%d frames, want %d", a.Total(), chunks*chunk)
	}
	for b, got := range a.Mean {
		r, i := float64(re[b]), float64(im[b])
		// 73 additions of single precision round by 3e-8 of the sum each, and alike in
		// every chunk of equal frames.
		if want := (r*r + i*i) * gain[b]; math.Abs(got/want-1) > 73*3e-8 {
			t.Errorf("column %d: mean of %d equal frames is %v of one", b, a.Total(), got/want)
		}
	}
}
