package simulated

import (
	"math"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A SupplyVerdict holds a supply that was built into the scene against the source that was
// found for it, nil for none.
type SupplyVerdict struct {
	Built Supply
	Found *result.NoiseSource
}

// sameSupply is how far apart two spacings of one supply are at most, as a share.
const sameSupply = 1e-3

func same(found, built survey.Hz) bool { return math.Abs(float64(found/built-1)) < sameSupply }

// CompareSupplies sets the supplies of the scene beside the combs that were found. others
// are the combs that belong to none.
func CompareSupplies(truth Truth, r *result.Report) (verdicts []SupplyVerdict, others []result.NoiseSource) {
	span := surveySpan(r)
	taken := map[int]bool{}
	for _, built := range truth.Supplies(span.First, span.Last) {
		v := SupplyVerdict{Built: built}
		for i := range r.Noise.Sources {
			s := &r.Noise.Sources[i]
			if s.Spacing != nil && same(*s.Spacing, built.Spacing) {
				v.Found, taken[i] = s, true
			}
		}
		verdicts = append(verdicts, v)
	}
	for i, s := range r.Noise.Sources {
		if s.Kind == survey.FindingComb && !taken[i] {
			others = append(others, s)
		}
	}
	return verdicts, others
}
