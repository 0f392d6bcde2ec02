package stat

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// What is selected is what sorting would put there.
func TestSelect(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(0, 9), 1, 300).Draw(t, "x")
		k := rapid.IntRange(0, len(x)-1).Draw(t, "k")
		want := slices.Sorted(slices.Values(x))[k]
		if got := Select(x, k); got != want {
			t.Fatalf("place %d: %v, want %v", k, got, want)
		}
	})
}

// A few values far off move neither the median nor the spread of a thousand normal ones by
// more than 0.1: their own errors are 1.2533/√1000 = 0.04 and 0.037.
func TestMedianSpread(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, 1000)
	for i := range x {
		if x[i] = 5 + r.NormFloat64(); i%100 == 0 {
			x[i] = 1e6
		}
	}
	if median, spread := MedianSpread(x); math.Abs(median-5) > 0.1 || math.Abs(spread-1) > 0.1 {
		t.Errorf("median %.3f, spread %.3f, want 5 and 1", median, spread)
	}
}

// The vertex of (x − 0.3)² turned over is at 0.3; a valley has none.
func TestVertex(t *testing.T) {
	if got := Vertex(-1.3*1.3, -0.3*0.3, -0.7*0.7); math.Abs(got-0.3) > 1e-12 {
		t.Errorf("vertex at %v, want 0.3", got)
	}
	if got := Vertex(1, 0, 1); got != 0 {
		t.Errorf("valley: %v, want 0", got)
	}
}
