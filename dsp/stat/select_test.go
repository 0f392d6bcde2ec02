package stat

import (
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
