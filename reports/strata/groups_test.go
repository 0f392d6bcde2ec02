package strata

import (
	"slices"
	"testing"
)

// Values fall into groups over gaps of more than 3 dB that are more than 5 standard deviations of
// the groups wide.
func TestGroups(t *testing.T) {
	// Groups of −1, 0, 1 times s about their middle: squares 2s² each, of 6 values in 2 groups s²·4/4: s.
	two := func(gap, s float64) []float64 { return []float64{-s, 0, s, 2*s + gap, 3*s + gap, s + gap} }
	for _, c := range []struct {
		gap, scatter float64
		count        int
	}{{2.95, 0.1, 1}, {3.05, 0.1, 2}, {4.9, 1, 1}, {5.1, 1, 2}} {
		group, count := groups(two(c.gap, c.scatter))
		if count != c.count {
			t.Errorf("a gap of %.2f dB at a scatter of %.1f dB: %d groups, want %d", c.gap, c.scatter, count, c.count)
		}
		if want := []int{0, 0, 0, 1, 1, 1}; count == 2 && !slices.Equal(group, want) {
			t.Errorf("%v, want %v", group, want)
		}
	}
	for _, x := range [][]float64{nil, {1}, {1, 9}, {1, 9, 30}} { // too few to tell a scatter
		if _, count := groups(x); count != 1 {
			t.Errorf("%v: %d groups", x, count)
		}
	}
}

// The floor through one setup stands raised from a jump up to a jump down, whatever it does
// slowly between.
func TestRaised(t *testing.T) {
	floor := []float64{0, 0.5, 1.2, 1.6, 13.9, 14.2, 14.8, 3.1, 3.3, 4.0, 4.4}
	if got, want := raised(floor), []bool{4: true, 5: true, 6: true, 10: false}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	// It began raised.
	floor = []float64{12, 12.5, 12.1, 0.2, 0.4, 0.1, 0.6}
	if got, want := raised(floor), []bool{true, true, true, 6: false}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if got := raised([]float64{0, 12, 0}); slices.Contains(got, true) {
		t.Errorf("of three rounds: %v", got)
	}
}
