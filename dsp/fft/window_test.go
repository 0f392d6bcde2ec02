package fft

import (
	"math"
	"testing"

	"github.com/mjibson/go-dsp/window"
)

// TestHannIsPeriodic: n points are the symmetric n+1 without the last.
func TestHannIsPeriodic(t *testing.T) {
	for _, n := range []int{8, 256, 4096} {
		want := window.Hann(n + 1)[:n]
		for i, got := range Hann(n) {
			if math.Abs(float64(got)-want[i]) > 6e-8 { // half a unit of single precision at 1
				t.Fatalf("%d points: point %d is %v, want %v", n, i, got, want[i])
			}
		}
	}
}

// Of cosine terms a_k it is 1 + Σ a_k²/(2·a_0²), exact for periodic windows.
func TestENBW(t *testing.T) {
	if got := ENBW(Hann(4096)); math.Abs(got-1.5) > 1e-6 {
		t.Errorf("Hann: %.6f bins, want 1.5", got)
	}
}
