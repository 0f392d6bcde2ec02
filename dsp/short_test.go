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
