package series

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/reporttest"
)

// Floors that drift by 2 dB with a correlation of 0.85 from round to round are told in four of five
// nights of 24 rounds, whose intervals hold too little, so that 6 % of all nights mislead; floors
// that drift as usual are not. Limits: fading that lasts as long shows in no floor, and 120 rounds
// are enough to be told nothing; there 10 and 11 % mislead.
func TestDriftTooSlow(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for _, c := range []struct {
		name     string
		night    night
		low, top float64 // share of nights in which it is told
		misled   float64 // share of all nights in which an interval is given that does not hold the truth
	}{
		{"slow drift", night{setups: 4, rounds: 24, fade: 0.87, fadeLag: 0.3, drift: 2, driftLag: 0.85}, 0.7, 0.95, 0.08},
		{"plain", night{setups: 4, rounds: 24, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0, 0.01, 0.08},
		{"slow fading", night{setups: 4, rounds: 24, fade: 2, fadeLag: 0.85, drift: 0.5, driftLag: 0.6}, 0, 0.01, 0.13},
		{"drift of half a decibel only", night{setups: 4, rounds: 24, fade: 0.1, fadeLag: 0, drift: 0.5, driftLag: 0.6}, 0, 0.1, 0.08},
		{"8 rounds, mostly drift", night{setups: 4, rounds: 8, fade: 0.35, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0, 0.15, 0.08},
		{"12 rounds, mostly drift", night{setups: 4, rounds: 12, fade: 0.35, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}, 0, 0.15, 0.08},
		{"12 rounds, slow drift", night{setups: 4, rounds: 12, fade: 0.87, fadeLag: 0.3, drift: 2, driftLag: 0.85}, 0.4, 0.95, 0.13},
		{"slow drift, 120 rounds", night{setups: 3, rounds: 120, fade: 0.87, fadeLag: 0.3, drift: 2, driftLag: 0.85}, 0, 0.1, 0.13},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			random := rand.New(rand.NewPCG(seed, 4))
			n, told, misled := reporttest.TrialsOr(60), 0.0, 0.0
			for range n {
				c.night.make(random)
				advantages, _ := c.night.pairs(c.night.errors)
				floors, _ := c.night.pairs(c.night.floors)
				if DriftTooSlow(advantages, floors, c.night.setups) {
					told += 1 / float64(n)
				} else if low, high, _ := advantages[0].By(Pool(advantages, c.night.setups), nil).Interval(); low > 0 || high < 0 {
					misled += 1 / float64(n)
				}
			}
			t.Logf("%d nights: told in %.3f; an interval that is given misleads in %.3f of all nights", n, told, misled)
			slack := 3 * math.Sqrt(0.1*0.9/float64(n))
			if told < c.low-slack || told > c.top+slack || misled > c.misled+slack {
				t.Errorf("told in %.3f, want %.2f to %.2f; misleads in %.3f", told, c.low, c.top, misled)
			}
		})
	}
	world := night{setups: 3, rounds: 24, fade: 1, drift: 2, driftLag: 0.85}
	world.make(rand.New(rand.NewPCG(seed, 5)))
	advantages, _ := world.pairs(world.errors)
	if DriftTooSlow(advantages, make([]*Fit, len(advantages)), 3) {
		t.Error("told of floors that are not known")
	}
}

// What floors drift must be over half of the variance, and 22 rounds with a correlation of 0.7 are
// 22·0.3/1.7 = 3.9 in effect, 23 are 4.06.
func TestBoundsOfSlowDrift(t *testing.T) {
	fit := func(rounds int, variance float64) *Fit {
		f := &Fit{rounds: make([]int, rounds), points: make([]point, len(grid))}
		f.points[0].variance, f.points[7].logL = variance, 1000
		return f
	}
	for _, c := range []struct {
		rounds int
		share  float64
		want   bool
	}{{22, 0.52, true}, {22, 0.48, false}, {23, 0.52, false}, {12, 0.52, true}} {
		if got := DriftTooSlow([]*Fit{fit(c.rounds, 2)}, []*Fit{fit(c.rounds, 2*c.share)}, 3); got != c.want {
			t.Errorf("%d rounds, share %.2f: %v", c.rounds, c.share, got)
		}
	}
}

// Three nights that lie 1, 2 and 6 dB apart: mean 3, standard error √(7/3) = 1.53, t of two degrees of
// freedom 4.303. Two nights say nothing.
func TestNights(t *testing.T) {
	s := of(0, 2, 2, 2, 5, 6, 7, 99)
	s.Stratum[7] = -1
	count, low, high, ok := s.Nights([]int{10, 10, 11, 11, 14, 14, 14, 15})
	if !ok || count != 3 || math.Abs(low-(3-6.573)) > 0.002 || math.Abs(high-(3+6.573)) > 0.002 {
		t.Errorf("%d nights: %.3f to %.3f, %v", count, low, high, ok)
	}
	if count, _, _, ok := s.Nights([]int{1, 1, 1, 1, 2, 2, 2, 3}); ok || count != 2 {
		t.Errorf("two nights: %d, %v", count, ok)
	}
}
