package stat

import (
	"math"
	"slices"
	"testing"
)

// Rows and columns stand on a line; what is 10 or more apart cannot be a pair.
func TestNearestPairs(t *testing.T) {
	for _, test := range []struct {
		name          string
		rows, columns []float64
		want          []int
	}{
		{"the nearest pair first", []float64{0, 3}, []float64{2, 30}, []int{-1, 0}},
		{"each column once", []float64{1, 1}, []float64{0, 2}, []int{0, 1}},
		{"none that cannot be", []float64{0, 50}, []float64{20, 51}, []int{-1, 1}},
		{"more columns than rows", []float64{5}, []float64{0, 4, 7}, []int{1}},
		{"what a nearer pair took is given up", []float64{8, 10, 100}, []float64{5, 11}, []int{0, 1, -1}},
		{"no columns", []float64{5}, nil, []int{-1}},
	} {
		got := NearestPairs(len(test.rows), len(test.columns), func(i, k int) float64 {
			if d := math.Abs(test.rows[i] - test.columns[k]); d < 10 {
				return d
			}
			return math.Inf(1)
		})
		if !slices.Equal(got, test.want) {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}
