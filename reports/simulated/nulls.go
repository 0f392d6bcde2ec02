package simulated

import (
	"math"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A NullVerdict holds the null of a supply through a turned antenna in a segment, as it was built
// into the scene, against the pattern that was found of it, nil for none.
type NullVerdict struct {
	Supply  string
	Turned  survey.Setup // without its bearing
	Segment string
	Null    float64 // degrees, 0 ≤ … < 180
	Depth   survey.DB
	Found   *result.Pattern
}

// NullHolds tells whether the interval of the null that is claimed, which may go across 0°, holds
// the one that was built in.
func (v NullVerdict) NullHolds() bool {
	p := v.Found
	if p == nil || p.Null == nil {
		return false
	}
	if *p.NullLow <= *p.NullHigh {
		return *p.NullLow <= v.Null && v.Null <= *p.NullHigh
	}
	return v.Null >= *p.NullLow || v.Null <= *p.NullHigh
}

// DepthHolds tells whether the interval of the depth holds the one that was built in.
func (v NullVerdict) DepthHolds() bool {
	p := v.Found
	return p != nil && p.DepthLow != nil && *p.DepthLow <= v.Depth && (p.DepthHigh == nil || v.Depth <= *p.DepthHigh)
}

// Off gives how many degrees the null that is claimed lies beside the one that was built in; 90
// where none is.
func (v NullVerdict) Off() float64 {
	if v.Found == nil || v.Found.Null == nil {
		return 90
	}
	return math.Abs(math.Remainder(*v.Found.Null-v.Null, 180))
}

// CompareNulls sets the nulls of the scene's supplies beside those that were found through each
// antenna that was turned, in each segment.
func CompareNulls(truth Truth, r *result.Report) (verdicts []NullVerdict, err error) {
	span := surveySpan(r)
	supplies := truth.Supplies(span.First, span.Last)
	patterns := r.Bearings.Patterns
	for first := 0; first < len(patterns); {
		next := first + 1
		for next < len(patterns) && patterns[next].SameTurns(&patterns[first]) {
			next++
		}
		for _, built := range supplies {
			p := &patterns[first]
			v := NullVerdict{Supply: built.Name, Turned: p.Turned(), Segment: p.Segment}
			if v.Null, v.Depth, err = truth.SupplyNull(built.Name, v.Turned, (p.Low+p.High)/2); err != nil {
				return nil, err
			}
			for i := first; i < next; i++ {
				if s := patterns[i].Spacing; s != nil && same(*s, built.Spacing) {
					v.Found = &patterns[i]
				}
			}
			verdicts = append(verdicts, v)
		}
		first = next
	}
	return verdicts, nil
}
