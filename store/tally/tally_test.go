package tally

import (
	"slices"
	"testing"
)

// TestSpans: numbers that follow each other are one run, and are found from the last back.
func TestSpans(t *testing.T) {
	var own Spans
	before := own.With(3, 6)
	own = before.With(7, 8).With(12, 12)
	if want := (Spans{{3, 8}, {12, 12}}); !slices.Equal(own, want) || !slices.Equal(before, Spans{{3, 6}}) {
		t.Errorf("%d after %d, want %d", own, before, want)
	}
	for far, want := range []int64{12, 8, 7, 6, 5, 4, 3} {
		if got, ok := own.FromLast(far); got != want || !ok || !own.Has(got) {
			t.Errorf("%d before the last: %d, want %d", far, got, want)
		}
	}
	if got, ok := own.FromLast(7); ok || own.Has(9) || own.Has(2) {
		t.Errorf("%d is none of %d", got, own)
	}
}
