package dsp

import "testing"

// few gives all cases, with -short the first n: with the race detector, under
// which tests run short, arithmetic takes ten times as long.
func few[T any](n int, cases []T) []T {
	if testing.Short() && len(cases) > n {
		return cases[:n]
	}
	return cases
}

// arithmetic leaves a test out of the pass with the race detector: what it exercises is
// one goroutine's arithmetic, which others run through there, too.
func arithmetic(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
}
