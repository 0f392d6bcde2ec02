package stat

import (
	"math"
	"slices"
	"testing"
)

// 10 is nearest to 11, though 8 comes first and has nothing nearer than 11; 8 then takes 5, and
// 100 is too far from anything.
func TestNearestPairs(t *testing.T) {
	rows, columns := []float64{8, 10, 100}, []float64{5, 11}
	distance := func(i, k int) float64 {
		if d := math.Abs(rows[i] - columns[k]); d <= 4 {
			return d
		}
		return math.Inf(1)
	}
	if got, want := NearestPairs(3, 2, distance), []int{0, 1, -1}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
