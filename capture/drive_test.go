package capture

import (
	"math"
	"math/rand/v2"
	"strings"
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
		if got := float64(gainRoom(codesOf(50_000, test.noise, test.tone))); math.Abs(got-test.want) > test.tol {
			t.Errorf("%s: %.2f dB, want %.1f ± %.1f", test.why, got, test.want, test.tol)
		}
	}
}

func TestStepNear(t *testing.T) {
	steps := []survey.DB{0, 3, 10}
	for gain, want := range map[survey.DB]int{-5: 0, 0: 0, 2.9: 0, 3: 1, 9.99: 1, 10: 2, 99: 2} {
		if got := stepAtMost(steps, gain); got != want {
			t.Errorf("%v dB: step %d, want %d", gain, got, want)
		}
	}
	for gain, want := range map[survey.DB]survey.DB{-5: 0, 1.5: 0, 1.6: 3, 6.4: 3, 6.6: 10, 99: 10} {
		if got := NearestStep(steps, gain); got != want {
			t.Errorf("%v dB: nearest is %v, want %v", gain, got, want)
		}
	}
}

// After an overload the gain of the segment's tuning falls by 6 dB or more, once;
// another tuning's and another setup's stay.
func TestEase(t *testing.T) {
	loop, whip := survey.Setup{Antenna: "loop"}, survey.Setup{Antenna: "whip"}
	s := &Sweeper{info: Info{Gains: []survey.DB{0, 3, 10, 14, 20}},
		tunings: []Tuning{{Segments: []survey.Segment{{Name: "31 m"}, {Name: "30 m amateur"}}}, {Segments: []survey.Segment{{Name: "49 m"}}}},
		gains:   map[gainKey]survey.Gain{{"loop", "", 0}: {DB: 20}, {"loop", "", 1}: {DB: 20}, {"whip", "", 0}: {DB: 3}}}
	for _, test := range []struct {
		setup       survey.Setup
		segments    map[string]bool
		eased, left string
	}{
		{loop, map[string]bool{"31 m": true, "30 m amateur": true}, "31 m, 30 m amateur", ""},
		{whip, map[string]bool{"31 m": true}, "31 m, 30 m amateur", ""},
		{whip, map[string]bool{"31 m": true}, "", "31 m, 30 m amateur"}, // it is the lowest by now
		{whip, map[string]bool{"49 m": true}, "", ""},                   // not known yet
	} {
		eased, left := s.LowerGain(test.setup, test.segments)
		if strings.Join(eased, "; ") != test.eased || strings.Join(left, "; ") != test.left {
			t.Errorf("%v, %v: eased %q, left %q", test.setup, test.segments, eased, left)
		}
	}
	for key, want := range map[gainKey]survey.DB{{"loop", "", 0}: 14, {"loop", "", 1}: 20, {"whip", "", 0}: 0} {
		if got := s.gains[key].DB; got != want {
			t.Errorf("%v: %v dB, want %v", key, got, want)
		}
	}
	if len(s.gains) != 3 {
		t.Errorf("%v", s.gains)
	}
}
