package interference

import (
	"math"
	"testing"
)

// Confidence counts all five kinds that are sought: each may err in a fifth of the cases.
func TestConfidenceCountsAllKinds(t *testing.T) {
	for p, want := range map[float64]float64{0: 1, 0.0002: 0.999, 0.01: 0.95, 1: 0} {
		if got := Confidence(p); math.Abs(got-want) > 1e-12 {
			t.Errorf("P %v: confidence %v, want %v", p, got, want)
		}
	}
}
