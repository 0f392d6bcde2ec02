package fft

import (
	"math"
	"testing"

	"github.com/mjibson/go-dsp/window"
)

// 30 dB over the noise in a bin, Hann's side lobes have sunk to a
// hundredth of the noise, 50 dB down, where 1/(π m³) is 10^(−50/20): m = 4.7.
func TestHannSkirt(t *testing.T) {
	if got := HannSkirt(1000); math.Abs(got-0.5-4.65) > 0.05 {
		t.Errorf("%.2f bins, want 4.65 and half a bin", got)
	}
}

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

// Of a window's values, as they are used, the noise bandwidth is n·Σw²/(Σw)².
func TestENBW(t *testing.T) {
	for _, n := range []int{64, 4096, 32768} {
		var sum, squares float64
		for _, w := range Hann(n) {
			sum += float64(w)
			squares += float64(w) * float64(w)
		}
		if got := float64(n) * squares / (sum * sum); math.Abs(got-HannENBW) > 1e-6 {
			t.Errorf("%d points: %.6f bins, want %v", n, got, HannENBW)
		}
	}
}
