package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/survey"
)

// codesOf makes n samples of noise of a level in dBFS with a tone of another.
func codesOf(n int, noise, tone float64) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	sigma, a := math.Sqrt(math.Pow(10, noise/10)/2), math.Pow(10, tone/20)
	out := make([]byte, 2*n)
	for i := range n {
		sin, cos := math.Sincos(0.7 * float64(i))
		out[2*i] = byte(max(0, min(255, math.Round(127.5+128*(a*cos+sigma*rng.NormFloat64())))))
		out[2*i+1] = byte(max(0, min(255, math.Round(127.5+128*(a*sin+sigma*rng.NormFloat64())))))
	}
	return out
}

func TestDrive(t *testing.T) {
	for _, test := range []struct {
		why         string
		noise, tone float64
		want, tol   float64
	}{
		// Noise of −40 dBFS: 20 dB to the aim at −20 dBFS rms; rounding adds 1/6 of a
		// squared code to 3.3: 0.2 dB. Peaks, 3.9 sigma in a component, stand at
		// −40 − 3 + 11.8 = −31.2 dBFS: 23 dB to go, so that rms rules.
		{"noise", -40, -200, 19.8, 0.3},
		{"as it should be", -20, -200, 0, 0.3},
		// A tone of −6 dBFS peaks at −6 in each component, the aim is −8; its rms asks for −14.
		{"one strong station", -60, -6, -14, 0.3},
		// Into the end stops: how far beyond is unknown, so 12 dB less.
		{"clipping", 3, -200, -12, 0},
		// Silence: the quantiser's own 1/12 of a squared code (−52.9 dBFS) bounds the
		// rise to −20 + 52.9 = 32.9; the peak, half a code, to −8 + 48.2.
		{"silence", -1000, -1000, 32.9, 0.1},
	} {
		if got := float64(Room(codesOf(50_000, test.noise, test.tone))); math.Abs(got-test.want) > test.tol {
			t.Errorf("%s: %.2f dB, want %.1f ± %.1f", test.why, got, test.want, test.tol)
		}
	}
}

func TestStepAtMost(t *testing.T) {
	steps := []survey.DB{0, 3, 10}
	for gain, want := range map[survey.DB]int{-5: 0, 0: 0, 2.9: 0, 3: 1, 9.99: 1, 10: 2, 99: 2} {
		if got := StepAtMost(steps, gain); got != want {
			t.Errorf("%v dB: step %d, want %d", gain, got, want)
		}
	}
}
