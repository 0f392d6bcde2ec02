package passband

import (
	"math"
	"testing"

	"nightfloor/survey"
)

// The decimation filter's figures of PHYSICS.md 7.4; the tolerance covers the rounding of their last digit.
func TestDecimation(t *testing.T) {
	for offset, want := range map[survey.Hz]float64{0: 0, 0.5e6: -0.06, 0.8e6: -0.6, -0.8e6: -0.6, 1.0e6: -1.5, 1.2e6: -3.0, 1.6e6: -8.6, 2e6: -21} {
		got := 10 * math.Log10(Decimation(offset))
		tol := 0.06
		if want < -5 {
			tol = 0.6
		}
		if math.Abs(got-want) > tol {
			t.Errorf("at %v: %.2f dB, want %.2f", offset, got, want)
		}
	}
}

func TestResponse(t *testing.T) {
	if Response(nil) != nil {
		t.Error("a response without a curve")
	}
	response := Response([]survey.Droop{{Offset: -100, Response: -2}, {Offset: 0}, {Offset: 50, Response: 1}})
	for offset, want := range map[survey.Hz]float64{-200: -2, -100: -2, -75: -1.5, 0: 0, 25: 0.5, 50: 1, 80: 1} {
		if got := 10 * math.Log10(response(offset)); math.Abs(got-want) > 1e-9 {
			t.Errorf("at %v: %.3f dB, want %.3f", offset, got, want)
		}
	}
}
