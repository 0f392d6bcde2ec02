package fft

import (
	"math"
	"testing"
)

// 30 dB over the noise in a bin, Hann's side lobes have sunk to a
// hundredth of the noise, 50 dB down, where 1/(π m³) is 10^(−50/20): m = 4.7.
func TestHannSkirt(t *testing.T) {
	if got := HannSkirt(1000); math.Abs(got-0.5-4.65) > 0.05 {
		t.Errorf("%.2f bins, want 4.65 and half a bin", got)
	}
}
