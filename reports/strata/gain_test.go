package strata

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/reporttest"
)

// Gains that nobody knows and that stand still tell strata as well as known ones; the names of states
// say that it may be the gain.
func TestGainsNotKnown(t *testing.T) {
	floor := zeros(10, map[int]float64{0: 9, 1: 9, 2: 9, 3: 9})
	known, not := plain(floor, zeros(10, nil)), plain(floor, zeros(10, nil))
	for n := range floor {
		not.Floors[0][n] += 40
	}
	not.Gainless = []bool{true, false}
	a, b := Choose(known).Pair(0, 1), Choose(not).Pair(0, 1)
	if !slices.Equal(a.Stratum, b.Stratum) || len(b.States) != 2 {
		t.Fatalf("%v, want %v", b.Stratum, a.Stratum)
	}
	if low, high := b.States[0].String(), b.States[1].String(); low != "floor or gain not raised" || high != "floor or gain raised, no source known" {
		t.Errorf("%q, %q", low, high)
	}
}

// Gains that nobody knows and that step take few rounds out, and widen intervals by little: from
// visit to visit by 6 dB, or twice a night, through one setup or through all at different times.
func TestGainsThatStep(t *testing.T) {
	seed := reporttest.SeedFor(t)
	between := func(n, from, to int) float64 {
		if from <= n && n < to {
			return 6
		}
		return 0
	}
	for _, c := range []struct {
		name string
		gain func(random *rand.Rand, k, n int) float64
	}{
		{"each visit", func(random *rand.Rand, _, _ int) float64 { return 6 * float64(random.IntN(2)) }},
		{"every other visit", func(_ *rand.Rand, k, n int) float64 { return 6 * float64((k+n)%2) }},
		{"up and down", func(_ *rand.Rand, k, n int) float64 { return 6 * float64((k/2+n)%2) }},
		{"twice, one", func(_ *rand.Rand, k, n int) float64 { return float64(k%2) * between(n, 5, 15) }},
		{"twice, all", func(_ *rand.Rand, _, n int) float64 { return between(n, 5, 15) }},
		{"twice, at different times", func(_ *rand.Rand, k, n int) float64 { return between(n, 5+5*k, 15+5*k) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(seed, 8))
			h := house{setups: 3, rounds: 24, drift: 0.5, driftLag: 0.6}
			n := reporttest.TrialsOr(60)
			left, held, wide, plain := 0, 0.0, 0.0, 0.0
			for range n {
				s, on, snr := h.night(random)
				m, _, _ := advantage(Choose(s), on, h, snr)
				width, _ := half(m, 0)
				plain += width
				s.Gainless = []bool{true, true, true}
				for k := range s.Floors {
					for r := range s.Floors[k] {
						s.Floors[k][r] += c.gain(random, k, r)
					}
				}
				m, p, _ := advantage(Choose(s), on, h, snr)
				width, holds := half(m, 0)
				if wide += width; holds {
					held += 1 / float64(n)
				}
				left += len(p.Left)
				for _, state := range p.States {
					if len(p.States) > 1 && !strings.HasPrefix(state.String(), "floor or gain") {
						t.Fatalf("%q", state)
					}
				}
			}
			t.Logf("held in %.3f, %.1f %% of rounds left out, %.2f times as wide", held, 100*float64(left)/float64(24*n), wide/plain)
			if held < 0.92-3*math.Sqrt(0.05*0.95/float64(n)) || float64(left) > 0.1*float64(24*n) || wide > 1.2*plain {
				t.Errorf("held in %.3f, %d of %d rounds left out, %.2f times as wide", held, left, 24*n, wide/plain)
			}
		})
	}
}
