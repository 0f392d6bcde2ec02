package series

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/stats"
)

// normal gives a distribution of nearly normal shape, t of many degrees of freedom.
func normal(mean, sigma float64) *Mixture {
	return &Mixture{Mean: mean, Rounds: 24, weights: Weights{1}, means: []float64{mean}, sigmas: []float64{sigma}, freedom: 1e6, parts: []float64{sigma}}
}

// Of seven setups that are alike each stays among those that may be the best in 95 % of nights:
// 0.955 to 0.963. Judged by the leader alone, or by single comparisons, each is left out in 10 %.
func TestSevenTies(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 2))
	n := reporttest.TrialsOr(60)
	world := night{setups: 7, rounds: 24, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}
	kept, single := 0.0, 0.0
	for range n {
		world.make(random)
		fits, at := world.pairs(world.errors)
		w := Pool(fits, world.setups)
		mixtures := make([]*Mixture, len(fits))
		for k, f := range fits {
			mixtures[k] = f.By(w, nil)
		}
		for _, may := range MayBeBest(world.setups, func(i, j int) *Mixture { return mixtures[at[[2]int{i, j}]] }) {
			if may {
				kept++
			}
		}
		for i := range world.setups {
			left := false
			for key, k := range at {
				p := mixtures[k].CDF(0) // the first of the pair is behind
				left = left || key[0] == i && p > 0.975 || key[1] == i && p < 0.025
			}
			if !left {
				single++
			}
		}
	}
	kept, single = kept/float64(7*n), single/float64(7*n)
	t.Logf("%d nights: each kept in %.3f; by single comparisons %.3f", n, kept, single)
	slack := 3 * math.Sqrt(0.05*0.95/float64(3*n))
	if kept < 0.95-slack || kept > 0.975+slack {
		t.Errorf("kept in %.3f, want 0.95 at least", kept)
	}
	if single > kept-0.02 {
		t.Errorf("single comparisons keep %.3f: this test is too easy", single)
	}
}

// Šidák's bound for three setups is 1 − √0.95 = 2.53 %, 1.954 standard errors; one 1.94 behind stays,
// one 1.97 behind goes. For two it is 5 %, 1.645.
func TestWhoMayBeBest(t *testing.T) {
	three := func(behind float64) []bool {
		return MayBeBest(3, func(i, j int) *Mixture {
			if j == 2 { // the third is far behind
				return normal(9, 1)
			}
			return normal(behind, 1) // the first ahead of the second
		})
	}
	if may := three(1.94); !may[0] || !may[1] || may[2] {
		t.Errorf("1.94 standard errors: %v", may)
	}
	if may := three(1.97); !may[0] || may[1] || may[2] {
		t.Errorf("1.97 standard errors: %v", may)
	}
	two := func(ahead float64) []bool {
		return MayBeBest(2, func(i, j int) *Mixture { return normal(ahead, 1) })
	}
	if a, b := two(-1.63), two(-1.66); !a[0] || b[0] || !b[1] {
		t.Errorf("%v, %v", a, b)
	}
	// What is not known, or rests on five rounds, excludes nobody; nor does a circle.
	few := normal(9, 1)
	few.Rounds = 5
	if may := MayBeBest(2, func(int, int) *Mixture { return few }); !may[0] || !may[1] {
		t.Errorf("five rounds: %v", may)
	}
	if may := MayBeBest(2, func(int, int) *Mixture { return nil }); !may[0] || !may[1] {
		t.Errorf("not known: %v", may)
	}
	if may := MayBeBest(3, func(i, j int) *Mixture { return normal([]float64{0, -9, 9, -9}[i+j], 1) }); !may[0] || !may[1] || !may[2] {
		t.Errorf("each behind the next: %v", may)
	}
	if may := MayBeBest(1, nil); !may[0] {
		t.Error("one setup may be the best")
	}
}

// Of one advantage against the reference the share is what its t distribution says.
func TestBestSharesFollowTheInterval(t *testing.T) {
	for _, c := range []struct{ t, share float64 }{ // Student's t, 4 degrees of freedom
		{0, 0.5}, {0.741, 0.75}, {1.533, 0.90}, {2.132, 0.95}, {2.776, 0.975}, {4.604, 0.995},
	} {
		m := normal(c.t*2, 2)
		m.freedom, m.parts = 4, []float64{1.2, 1.6} // √(1.2² + 1.6²) = 2
		got := BestShares([]*Mixture{nil, m}, 1)
		if tol := 4*math.Sqrt(c.share*(1-c.share)/draws) + 1e-3; math.Abs(got[1]-c.share) > tol || math.Abs(got[0]+got[1]-1) > 1e-9 {
			t.Errorf("%.3f standard errors ahead: %.4f, want %.3f ± %.3f", c.t, got, c.share, tol)
		}
	}
	// What moves alike cancels: 0.1 dB apart on the same rounds is sure, on others not.
	a, b := normal(0.1, 2), normal(0, 2)
	a.parts, b.parts = []float64{2, 0}, []float64{2, 0}
	if got := BestShares([]*Mixture{a, b}, 1)[0]; got != 1 {
		t.Errorf("moving together: %.3f, want 1", got)
	}
	b.parts = []float64{0, 2}
	if got := BestShares([]*Mixture{a, b}, 1)[0]; got < 0.4 || got > 0.6 {
		t.Errorf("on rounds of their own: %.3f, want about a half", got)
	}
	if got := BestShares([]*Mixture{nil}, 1); got[0] < 1-1e-9 {
		t.Errorf("the reference alone: %v", got)
	}
}

// The share of draws in which one of two equals is first is known to √(¼/2,000) = 0.011: with other
// seeds it scatters by as much, itself known to 9 % of 60 of them.
func TestScatterOfBestShares(t *testing.T) {
	var shares []float64
	for seed := range uint64(60) {
		shares = append(shares, BestShares([]*Mixture{nil, normal(0, 2)}, seed)[0])
	}
	mean, variance := stats.MeanVariance(shares)
	if math.Abs(mean-0.5) > 0.005 || math.Abs(math.Sqrt(variance)-0.0112) > 0.003 {
		t.Errorf("%.4f ± %.4f, want 0.5 ± 0.0112", mean, math.Sqrt(variance))
	}
}

// Of two setups that are alike the share is anything with equal chance: under 0.05 in 5 % of the
// nights, over 0.95 in 5 %.
func TestBestSharesOfEquals(t *testing.T) {
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 3))
	n := reporttest.TrialsOr(300)
	world := night{setups: 2, rounds: 24, fade: 0.87, fadeLag: 0.3, drift: 0.5, driftLag: 0.6}
	tails, middle := 0.0, 0.0
	for i := range n {
		world.make(random)
		fits, _ := world.pairs(world.errors)
		switch share := BestShares([]*Mixture{nil, fits[0].By(Pool(fits, 2), nil)}, uint64(i))[1]; {
		case share < 0.05 || share > 0.95:
			tails += 1 / float64(n)
		case share > 0.25 && share < 0.75:
			middle += 1 / float64(n)
		}
	}
	t.Logf("%d nights: %.3f in the tails, %.3f in the middle half", n, tails, middle)
	slack := 3 * math.Sqrt(0.1*0.9/float64(n))
	if tails < 0.07-slack || tails > 0.135+slack || middle < 0.43-slack || middle > 0.6+slack {
		t.Errorf("%.3f in the tails, want 0.1; %.3f in the middle, want 0.5", tails, middle)
	}
}
