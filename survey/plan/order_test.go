package plan

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"nightfloor/survey"
)

var fresh = flag.Bool("fresh", false, "run statistical tests with a fresh seed")

func seedOf(t *testing.T) uint64 {
	seed := uint64(20261103)
	if *fresh {
		seed = rand.Uint64()
	}
	t.Logf("seed %d", seed)
	return seed
}

func TestOrderIsShuffled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "setups")
		s := Plan{Setups: make([]survey.Setup, n), Seed: rapid.Uint64().Draw(t, "seed")}.Shuffler()
		last := -1
		for range rapid.IntRange(1, 5).Draw(t, "rounds") {
			order := s.Next()
			if n > 1 && order[0] == last {
				t.Fatalf("%d closed the last round and opens this one: %v", last, order)
			}
			sorted := slices.Clone(order)
			slices.Sort(sorted)
			for i, at := range sorted {
				if i != at || len(sorted) != n {
					t.Fatalf("not a permutation of %d: %v", n, order)
				}
			}
			last = order[n-1]
		}
	})
}

// There and back again: each setup twice, mirrored, so that the middle of its two
// visits is the middle of the round; and none closes a round and opens the next.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "setups")
		s := Plan{Setups: make([]survey.Setup, n), Order: OrderABBA, Seed: rapid.Uint64().Draw(t, "seed")}.Shuffler()
		last := -1
		for range 4 {
			order := s.Next()
			if len(order) != 2*n || n > 1 && order[0] == last {
				t.Fatalf("after %d: %v", last, order)
			}
			for i := range n {
				if order[i] != order[2*n-1-i] || slices.Index(order, i) >= n {
					t.Fatalf("not there and back again: %v", order)
				}
			}
			last = order[2*n-1]
		}
	})
}

// Over many rounds each setup stands at each position equally often, else a
// level that drifts within rounds would favour some.
func TestPositionsAreFair(t *testing.T) {
	const rounds = 20000
	for _, n := range []int{3, 4, 8} {
		s := Plan{Setups: make([]survey.Setup, n), Seed: seedOf(t) + uint64(n)}.Shuffler()
		counts := make([][]int, n)
		for i := range counts {
			counts[i] = make([]int, n)
		}
		last, again := -1, make([]int, n) // where the one that closed a round stands in the next
		for range rounds {
			order := s.Next()
			for position, setup := range order {
				counts[setup][position]++
				if setup == last {
					again[position]++
				}
			}
			last = order[n-1]
		}
		// A count scatters by √(rounds/n·(1−1/n)) were rounds independent. A round is
		// tied to the one before by one bar; 3 setups tie most, twice the variance
		// at worst. 5 sigma of that for up to 64 counts: a chance of 4e-5.
		want := float64(rounds) / float64(n)
		tol := 5 * math.Sqrt(2*want*(1-1/float64(n)))
		for position := 1; position < n; position++ {
			// Every position but the first alike, each round by itself.
			want := float64(rounds-1) / float64(n-1)
			if got := again[position]; math.Abs(float64(got)-want) > 5*math.Sqrt(want) {
				t.Errorf("%d setups: the last one of a round at position %d of the next %d times, want %.0f ± %.0f", n, position, got, want, 5*math.Sqrt(want))
			}
		}
		for setup := range counts {
			for position, got := range counts[setup] {
				if math.Abs(float64(got)-want) > tol {
					t.Errorf("%d setups: setup %d at position %d in %d rounds, want %.0f ± %.0f", n, setup, position, got, want, tol)
				}
			}
		}
	}
}
