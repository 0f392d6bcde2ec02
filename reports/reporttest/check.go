package reporttest

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// Find gives a setup's place in a segment's ranking.
func Find(t testing.TB, s result.RankSegment, setup survey.Setup) result.RankSetup {
	t.Helper()
	for _, x := range s.Setups {
		if x.Setup == setup {
			return x
		}
	}
	t.Fatalf("%s is not in the ranking", setup)
	return result.RankSetup{}
}

// Near wants a figure within a tolerance.
func Near(t *testing.T, what string, got *survey.DB, want, tol float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s: nothing, want %.2f", what, want)
	} else if math.Abs(float64(*got)-want) > tol {
		t.Errorf("%s: %.3f, want %.2f ± %.2f", what, *got, want, tol)
	}
}

// HasDoubt tells whether a ranking has a doubt that holds some words.
func HasDoubt(s result.RankSegment, part string) bool {
	return slices.ContainsFunc(s.Doubts, func(d doubt.Doubt) bool { return strings.Contains(d.String(), part) })
}

// Says tells whether any of the texts holds the words.
func Says(texts []string, words string) bool {
	return strings.Contains(strings.Join(texts, "\n"), words)
}

// Zone is where the pages of the tests are read: no change of the clock in it, and
// no need of a time-zone database.
var Zone = time.FixedZone("CET", 3600)

// Selected selects what is there, be it nothing.
func Selected(in input.Input, opts input.Options) input.Selection {
	s, err := input.Select(in, opts)
	if err != nil && !errors.Is(err, input.ErrNothing) {
		panic(err)
	}
	return s
}
