package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/codes"
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

// levelOf counts codes.
func levelOf(iq []byte) Level {
	c := codes.NewCounter(8)
	c.AddU8(iq)
	return LevelOf(c)
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
		if got := float64(levelOf(codesOf(50_000, test.noise, test.tone)).Room()); math.Abs(got-test.want) > test.tol {
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

// From where the converter clips, whose end stops hide how far, six looks lead 72 dB down; where the gain is found
// they end before.
func TestFind(t *testing.T) {
	var steps []survey.DB
	for gain := survey.DB(0); gain <= 72; gain += 3 {
		steps = append(steps, gain)
	}
	for fits, mostLooks := range map[survey.DB]int{3: 6, 60: 3} {
		looked := 0
		got, err := Find(steps, len(steps)-1, len(steps)-1, func(gain survey.DB) (Level, error) {
			looked++
			if gain > fits {
				return Level{RMS: 90, Peak: 127.5}, nil
			}
			return Level{RMS: 128 * math.Pow(10, (aimRMS+float64(gain-fits))/20) / math.Sqrt2, Peak: 1}, nil
		})
		if want := map[survey.DB]survey.DB{3: 0, 60: 60}[fits]; err != nil || got != want || looked > mostLooks {
			t.Errorf("up to %v: %v after %d looks, %v, want %v", fits, got, looked, err, want)
		}
	}
}

// Noise of 2 codes rms in each component stands at 20 log(2/128) + 3 = −33.1 dBFS; levels are coarse below.
func TestLow(t *testing.T) {
	for level, want := range map[float64]bool{-33.6: true, -32.6: false} {
		l := levelOf(codesOf(50_000, level, -200))
		if l.Low() != want || math.Abs(l.RMS-2)/2 > 0.1 {
			t.Errorf("%v dBFS: %.2f codes, low %v", level, l.RMS, l.Low())
		}
	}
}

// A gain rises where most readings of a round had too little drive and all of them 6 dB of room, by the least of it.
func TestWatch(t *testing.T) {
	at := func(room float64) Level {
		return Level{RMS: 128 * math.Pow(10, (aimRMS-room)/20) / math.Sqrt2, Peak: 1}
	}
	low, high := at(20), at(2)
	for _, test := range []struct {
		why  string
		note func(w *Watch[string])
		want survey.DB // 0: it does not rise
	}{
		{"nothing was measured", func(*Watch[string]) {}, 0},
		{"too little drive", func(w *Watch[string]) { w.Note("a", low, true); w.Note("a", at(9), true) }, 9},
		{"enough drive", func(w *Watch[string]) { w.Note("a", low, false); w.Note("a", low, false) }, 0},
		{"half of it enough", func(w *Watch[string]) { w.Note("a", low, true); w.Note("a", low, false) }, 0},
		{"a station came on for one reading", func(w *Watch[string]) { w.Note("a", low, true); w.Note("a", low, true); w.Note("a", high, false) }, 0},
		{"little room", func(w *Watch[string]) { w.Note("a", at(5.9), true) }, 0},
		{"enough room", func(w *Watch[string]) { w.Note("a", at(6.1), true) }, 6.1},
	} {
		var w Watch[string]
		w.Note("b", high, false)
		test.note(&w)
		rises := w.EndRound()
		if by := rises["a"]; math.Abs(float64(by-test.want)) > 1e-9 || (test.want == 0) != (len(rises) == 0) {
			t.Errorf("%s: %v, want %v", test.why, rises, test.want)
		}
		if again := w.EndRound(); len(again) != 0 {
			t.Errorf("%s: %v in a round without readings", test.why, again)
		}
	}
}
