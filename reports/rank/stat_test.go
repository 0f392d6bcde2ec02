package rank

import (
	"math"
	"slices"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// TestForcingSwitchedOff leaves out what no antenna detected by itself, as if
// nothing were measured by force: the ranking is then biased in favour of the deaf
// antenna, and by as much as theory says. Levels fade by a normal law of s = 4/√2 dB
// through each antenna; of those the deaf one, whose stations stand at t dB over the
// threshold in the middle, shows the ones above it only, whose mean is
// s·φ(t/s)/Φ(t/s) too high (truncated normal). The good one shows all.
func TestForcingSwitchedOff(t *testing.T) {
	const truth, threshold = -10.0, 12.0 // dB; the threshold in standard errors of one reading
	seed, n := reporttest.SeedFor(t), reporttest.TrialsOr(100)
	var on, off, theory float64
	for i := range n {
		w := reporttest.NewWorld(seed + uint64(i))
		w.Gain, w.Floor, w.FloorSD = []float64{0, truth}, []float64{-98, -98}, 0
		w.Levels, w.Fade, w.Common, w.Pattern = []float64{20, 22, 24, 26, 34, 38}, 4, 0, 0
		in := w.Input()
		on += float64(*reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(1)).SNRAdvantage)
		for _, s := range in.Sweeps {
			for r := range s.Readings {
				s.Readings[r].Carriers = slices.DeleteFunc(s.Readings[r].Carriers, func(c survey.Carrier) bool {
					return c.Power < stats.FromDecibel(threshold)*c.Sigma
				})
			}
		}
		off += float64(*reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(1)).SNRAdvantage)
		if i > 0 {
			continue
		}
		for _, level := range w.Levels {
			s := w.Fade / math.Sqrt2
			z := (level + truth - threshold) / s
			theory += s * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) / (0.5 * math.Erfc(-z/math.Sqrt2)) / float64(len(w.Levels))
		}
	}
	on, off = on/float64(n), off/float64(n)
	t.Logf("truth %.0f dB: %.2f with forced measurement, %.2f without; theory says %.2f", truth, on, off, truth+theory)
	if math.Abs(on-truth) > 0.3 {
		t.Errorf("with forced measurement %.2f dB, want %.0f ± 0.3", on, truth)
	}
	if math.Abs(off-truth-theory) > 0.3 {
		t.Errorf("without it %.2f dB, want the %.2f ± 0.3 of theory", off, truth+theory)
	}
}

// TestMostStationsUnheard puts six of eight stations so far under the noise of a
// deaf antenna that they say nothing. The interval must then allow for what the
// two others do not show.
func TestMostStationsUnheard(t *testing.T) {
	const truth = -35.0
	seed, n := reporttest.SeedFor(t), reporttest.TrialsOr(100)
	var sum float64
	held := 0
	for i := range n {
		w := reporttest.NewWorld(seed + uint64(i))
		w.Gain, w.Floor, w.Pattern = []float64{0, truth}, []float64{-98, -98}, 2
		w.Levels = []float64{8, 10, 12, 15, 17, 20, 38, 42}
		s := mustRank(t, w.Input(), input.Options{}).Segments[0]
		x := reporttest.Find(t, s, w.Setup(1))
		if x.SNRAdvantage == nil {
			t.Fatalf("survey %d: two stations are heard, but no figure: %q", i, s.Doubts)
		}
		if !reporttest.HasDoubt(s, "carriers under the noise") {
			t.Fatalf("survey %d: no word of it in %q", i, s.Doubts)
		}
		sum += float64(*x.SNRAdvantage)
		if float64(*x.Low) <= truth && truth <= float64(*x.High) {
			held++
		}
	}
	share := float64(held) / float64(n)
	t.Logf("truth %.0f dB: mean %.2f, interval holds it in %.0f %%", truth, sum/float64(n), 100*share)
	// Wide on purpose: how the unheard differ is not in the data.
	if share < 0.92-3*math.Sqrt(0.05*0.95/float64(n)) {
		t.Errorf("coverage %.2f, want 0.92 at least", share)
	}
}

// TestNothingHeard: all stations under the noise of one setup give a bound in
// words, not a figure.
func TestNothingHeard(t *testing.T) {
	w := reporttest.NewWorld(1)
	w.Gain, w.Floor = []float64{0, -60}, []float64{-98, -98}
	s := mustRank(t, w.Input(), input.Options{}).Segments[0]
	x := reporttest.Find(t, s, w.Setup(1))
	if x.SNRAdvantage != nil || x.Low != nil || x.Rank != 0 || !reporttest.HasDoubt(s, "it hears none of 4 carriers that the reference hears: at least") {
		t.Errorf("%+v, doubts %q", x, s.Doubts)
	}
}
