package envelope

import (
	"slices"
	"testing"
)

// An event is a run over the limit: gaps up to Gap do not part it, it is no longer than
// Longest, and a level beside that is higher hides it.
func TestEvents(t *testing.T) {
	power := []float64{1, 4, 1, 1, 6, 5, 1, 9, 1, 1, 1, 3, 3, 3, 3, 1, 3}
	find := func(f EventFinder) []Event { return f.Find(nil, power) }
	for _, test := range []struct {
		name string
		f    EventFinder
		want []Event
	}{
		{"runs", EventFinder{Limit: 2, Level: 1, Gap: 1, Longest: 4},
			[]Event{{1, 1, 1, 4}, {4, 5, 4, 6}, {7, 7, 7, 9}, {11, 14, 11, 3}, {16, 16, 16, 3}}},
		{"a gap of one sample", EventFinder{Limit: 2, Level: 1, Gap: 2, Longest: 4},
			[]Event{{1, 1, 1, 4}, {4, 7, 7, 9}}}, // the last is too long
		{"a higher level", EventFinder{Limit: 2, Level: 2, Gap: 1, Longest: 4}, []Event{{4, 5, 4, 3}, {7, 7, 7, 4.5}}},
		{"beside", EventFinder{Limit: 2, Level: 1, Gap: 1, Longest: 4, Beside: func(i int) float64 { return float64(i) / 2 }},
			[]Event{{1, 1, 1, 4}, {4, 4, 4, 3}, {7, 7, 7, 9 / 3.5}}},
	} {
		if got := find(test.f); !slices.Equal(got, test.want) {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}

// The shares of all stretches sum to 1.
func TestStretchShare(t *testing.T) {
	sum := 0.0
	for i := range 100000 {
		sum += StretchShare(i + 1)
	}
	if sum > 1 || sum < 0.9999 {
		t.Errorf("shares sum to %v", sum)
	}
}
