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

// A dongle's filter is known; the simulated house has the same at 2.4 MS/s, at other rates as far within its
// passband; a recording has none.
func TestKnown(t *testing.T) {
	for _, test := range []struct {
		receiver     string
		rate, offset survey.Hz
		want         float64
	}{
		{"Generic, R820T, 2400000 samples/s (rtlsdr:)", 2.4e6, 0.8e6, -0.6}, {"Generic, R820T, 1600000 samples/s (rtlsdr:)", 1.6e6, 0.8e6, -0.6},
		{"simulated house, seed 1, 1200000 samples/s (scene:house?seed=1)", 1.2e6, 0.4e6, -0.6}, {"recording a.cu8, 2400000 samples/s (file:a.cu8)", 2.4e6, 0.8e6, 0},
	} {
		if got := 10 * math.Log10(Known(test.receiver, test.rate)(test.offset)); math.Abs(got-test.want) > 0.06 {
			t.Errorf("%s: %.2f dB at %v, want %.2f", test.receiver, got, test.offset, test.want)
		}
	}
}

// Two responses differ by the most within what is asked for, its edges included, whichever takes off more.
func TestApart(t *testing.T) {
	a := Response([]survey.Droop{{Offset: -100, Response: -2}, {Offset: 0}, {Offset: 100, Response: -1}})
	b := Response([]survey.Droop{{Offset: -100, Response: -1}, {Offset: 0}, {Offset: 50, Response: -2}, {Offset: 100, Response: -1}})
	for span, want := range map[[2]survey.Hz]survey.DB{{-100, 0}: 1, {-50, 0}: 0.5, {0, 100}: 1.5, {60, 100}: 1.2, {0, 0}: 0} {
		if got, back := Apart(a, b, span[0], span[1]), Apart(b, a, span[0], span[1]); math.Abs(float64(got-want)) > 0.02 || math.Abs(float64(got-back)) > 1e-9 {
			t.Errorf("%v: %.3f dB, want %.2f", span, float64(got), float64(want))
		}
	}
}
