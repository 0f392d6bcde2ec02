package source

import (
	"cmp"
	"slices"

	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/strength"
)

// Strengths tells how strong a source is through every setup in every segment while it is on. Of
// combs and of modulated noise every reading counts in which they were measured, by force too,
// so that none between two detections is chosen for its strength: a power may be negative, and
// is combined as it is. Impulses, humps and notches are measured only where they are detected:
// the levels of those that come near the detectors' bounds read high.
func Strengths(l *readlog.Log, s *Source) []result.NoiseStrength {
	sums := strength.NewSums(l)
	for r, f := range s.WhileOn(l) {
		sums.Add(l, r, f)
	}
	out := []result.NoiseStrength{}
	for e, sum := range sums {
		if x := strength.At(l, e); sum != nil {
			if sum.Tell(&x); x.Rounds > 0 {
				out = append(out, x)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b result.NoiseStrength) int { return cmp.Compare(a.From, b.From) })
	return out
}
