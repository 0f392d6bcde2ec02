package fft

import (
	"math"
	"testing"

	"github.com/mjibson/go-dsp/window"
)

// TestWindowIsPeriodic: n points are the symmetric n+1 without the last.
func TestWindowIsPeriodic(t *testing.T) {
	for _, test := range []struct {
		name   string
		kind   WindowKind
		oracle func(int) []float64
	}{
		{"Hann", Hann, window.Hann},
		{"Hamming", Hamming, window.Hamming},
		{"FlatTop", FlatTop, window.FlatTop},
		{"Rectangle", Rectangle, window.Rectangular},
	} {
		for _, n := range []int{8, 256, 4096} {
			want := test.oracle(n + 1)[:n]
			for i, got := range Window(test.kind, n) {
				if math.Abs(float64(got)-want[i]) > 6e-8 { // half a unit of single precision at 1
					t.Fatalf("%s of %d: point %d is %v, want %v", test.name, n, i, got, want[i])
				}
			}
		}
	}
}

func TestENBW(t *testing.T) {
	for _, test := range []struct {
		name      string
		kind      WindowKind
		want, tol float64
	}{
		// Of a_k cosine terms: 1 + Σ a_k²/(2·a_0²), exact for periodic windows.
		{"Rectangle", Rectangle, 1, 1e-6},
		{"Hann", Hann, 1.5, 1e-6},           // 1 + 0.5²/(2·0.5²)
		{"Hamming", Hamming, 1.36283, 1e-5}, // 1 + 0.46²/(2·0.54²)
		// 1 + (0.48829² + 0.14128² + 0.01168²)/(2·0.35875²)
		{"BlackmanHarris", BlackmanHarris, 2.00435, 1e-5},
		// 1 + (0.41663² + 0.27726² + 0.08358² + 0.00695²)/(2·0.21558²)
		{"FlatTop", FlatTop, 3.77025, 1e-5},
	} {
		if got := ENBW(Window(test.kind, 4096)); math.Abs(got-test.want) > test.tol {
			t.Errorf("%s: %.6f bins, want %.5f", test.name, got, test.want)
		}
	}
}

// TestBlackmanHarrisSidelobes: no sidelobe of the four-term window stands above
// −92 dB [Harris:1978, table 1]; seen between bins, through zero padding.
func TestBlackmanHarrisSidelobes(t *testing.T) {
	const n, padding = 64, 16
	x := make([]complex64, n*padding)
	for i, w := range Window(BlackmanHarris, n) {
		x[i] = complex(w, 0)
	}
	y := transform(x)
	highest := 0.0
	for _, v := range y[4*padding : len(y)-4*padding+1] { // the main lobe ends 4 bins off
		highest = max(highest, real(v)*real(v)+imag(v)*imag(v))
	}
	level := 10 * math.Log10(highest/(real(y[0])*real(y[0])))
	// Harris gives −92 dB, whole decibels; single precision adds noise at −140 dB.
	if math.Abs(level+92) > 0.5 {
		t.Errorf("highest sidelobe %.2f dB, want −92 ± 0.5 dB", level)
	}
}

func TestWindowRefusesUnknownKinds(t *testing.T) {
	mustPanic(t, "window of kind 99", func() { Window(99, 8) })
}
