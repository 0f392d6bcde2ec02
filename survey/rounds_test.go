package survey

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
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
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		last := -1
		for range rapid.IntRange(1, 5).Draw(t, "rounds") {
			order := Order(rng, n, last)
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
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		last := -1
		for range 4 {
			order := ThereAndBack(rng, n, last)
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
		rng := rand.New(rand.NewPCG(seedOf(t), uint64(n)))
		counts := make([][]int, n)
		for i := range counts {
			counts[i] = make([]int, n)
		}
		last, again := -1, make([]int, n) // where the one that closed a round stands in the next
		for range rounds {
			order := Order(rng, n, last)
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

// script makes recordings a minute apart: each word is a setup's letter and the
// segments it covers.
func script(words ...string) []Taken {
	start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	var out []Taken
	for i, w := range words {
		t := Taken{Setup: Setup{Antenna: w[:1], Placement: "attic"}, Start: start.Add(time.Duration(i) * time.Minute)}
		for _, s := range w[1:] {
			t.Segments = append(t.Segments, string(s))
		}
		out = append(out, t)
	}
	return out
}

func TestTurns(t *testing.T) {
	for _, test := range []struct {
		why   string
		taken []Taken
		want  []Turn
	}{
		{"nothing", nil, []Turn{}},
		{"a round ends where a setup would come a second time", script("a1", "b1", "a1", "b1"), []Turn{{1, 1, 1}, {1, 2, 2}, {2, 3, 3}, {2, 4, 4}}},
		{"shuffled rounds", script("a1", "b1", "c1", "b1", "a1", "c1"), []Turn{{1, 1, 1}, {1, 2, 2}, {1, 3, 3}, {2, 4, 4}, {2, 5, 5}, {2, 6, 6}}},
		{"neighbours through one setup are one visit", script("a1", "a1", "b1", "b1", "a1"), []Turn{{1, 1, 1}, {1, 1, 2}, {1, 2, 3}, {1, 2, 4}, {2, 3, 5}}},
		{"different segments are one sweep", script("a1", "a2", "a3", "b1", "b2", "b3", "a1", "a2"), []Turn{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}, {1, 2, 2}, {1, 2, 2}, {1, 2, 2}, {2, 3, 3}, {2, 3, 3}}},
		{"a segment again begins a sweep", script("a1", "a2", "a1", "a2", "b12"), []Turn{{1, 1, 1}, {1, 1, 1}, {1, 1, 2}, {1, 1, 2}, {1, 2, 3}}},
		{"one of several segments again too", script("a12", "a23", "a1"), []Turn{{1, 1, 1}, {1, 1, 2}, {1, 1, 2}}},
		{"a round that missed a setup", script("a1", "b1", "b1", "a1"), []Turn{{1, 1, 1}, {1, 2, 2}, {1, 2, 3}, {2, 3, 4}}},
	} {
		if got := Turns(test.taken); !slices.Equal(got, test.want) {
			t.Errorf("%s: %v, want %v", test.why, got, test.want)
		}
	}
	// Another bearing is another setup.
	turned := script("a1", "a1", "a1")
	turned[1].Setup.Bearing = BearingOf(90)
	if got, want := Turns(turned), []Turn{{1, 1, 1}, {1, 2, 2}, {2, 3, 3}}; !slices.Equal(got, want) {
		t.Errorf("turned: %v, want %v", got, want)
	}
}

// The turns do not hang on the order of import, also where several recordings
// start in the same second.
func TestTurnsOfAnyImportOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var taken []Taken
		start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
		for range rapid.IntRange(1, 20).Draw(t, "recordings") {
			taken = append(taken, Taken{
				Setup:    Setup{Antenna: rapid.SampledFrom([]string{"loop", "whip"}).Draw(t, "antenna"), Placement: "attic", Bearing: BearingOf(float64(rapid.IntRange(0, 2).Draw(t, "bearing")))},
				Start:    start.Add(time.Duration(rapid.IntRange(0, 6).Draw(t, "second")) * time.Second),
				Segments: []string{rapid.SampledFrom([]string{"31 m", "49 m", "25 m"}).Draw(t, "segment")},
			})
		}
		want := Turns(taken)
		order := rapid.Permutation(indices(len(taken))).Draw(t, "order")
		mixed := make([]Taken, len(taken))
		for i, at := range order {
			mixed[i] = taken[at]
		}
		// Twins, alike in all, may change places: compare what stands where.
		type placed struct {
			setup   Setup
			second  int
			segment string
			turn    Turn
		}
		count := map[placed]int{}
		for i, turn := range Turns(mixed) {
			m := mixed[i]
			count[placed{m.Setup, m.Start.Second(), m.Segments[0], turn}]++
		}
		for i, turn := range want {
			m := taken[i]
			count[placed{m.Setup, m.Start.Second(), m.Segments[0], turn}]--
		}
		for p, n := range count {
			if n != 0 {
				t.Fatalf("%+v: %+d in another order of import", p, n)
			}
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}
