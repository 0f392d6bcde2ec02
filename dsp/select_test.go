package dsp

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestSelected(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 60).Draw(t, "x")
		if rapid.Bool().Draw(t, "many alike") {
			for i := range x {
				x[i] = float64(int(x[i]))
			}
		}
		n := rapid.IntRange(0, len(x)-1).Draw(t, "n")
		sorted := slices.Sorted(slices.Values(x))
		if got := selected(x, n); got != sorted[n] {
			t.Fatalf("place %d is %v, want %v", n, got, sorted[n])
		}
		if slices.Sort(x); !slices.Equal(x, sorted) {
			t.Fatal("values were lost")
		}
	})
}
