package rtlsdr

import (
	"math"
	"testing"

	"nightfloor/survey"
)

// The filter's figures of PHYSICS.md 7.4; the tolerance covers the rounding of their last digit.
func TestDroop(t *testing.T) {
	for offset, want := range map[survey.Hz]float64{0: 0, 0.5e6: -0.06, 0.8e6: -0.6, -0.8e6: -0.6, 1.0e6: -1.5, 1.2e6: -3.0, 1.6e6: -8.6, 2e6: -21} {
		got := 10 * math.Log10(droop(offset))
		tol := 0.06
		if want < -5 {
			tol = 0.6
		}
		if math.Abs(got-want) > tol {
			t.Errorf("at %v: %.2f dB, want %.2f", offset, got, want)
		}
	}
}
