package stat

import (
	"math"
	"testing"
)

// At the ends of the interval n events and more, or n and fewer, come with the probability 2.5 %; the table of
// Garwood has 0.0253 to 5.572 for one event, 0.619 to 8.767 for three, 3.689 for none.
func TestPoissonRate(t *testing.T) {
	for n, want := range map[int][2]float64{0: {0, 3.689}, 1: {0.0253, 5.572}, 3: {0.619, 8.767}, 10: {4.795, 18.390}} {
		low, high := PoissonRate(n, 2)
		if math.Abs(2*low-want[0]) > 0.001 || math.Abs(2*high-want[1]) > 0.001 {
			t.Errorf("%d in 2 s: %.4f to %.4f a second", n, low, high)
		}
	}
}
