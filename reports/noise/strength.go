package noise

import (
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/strength"
)

// How strong a source is through a setup in a segment, while it is on. Of combs and of noise
// that beats every reading counts in which they were measured, by force too, so that none
// between two detections is chosen for its strength: a power may be negative, and is combined
// as it is. Impulses, humps and notches are measured only where they are detected: the levels
// of those that come near the detectors' bounds read high.

// strengths gives a source's strength through every setup in every segment.
func (l *noiseLog) strengths(s *noiseSource) []result.NoiseStrength {
	sums := make([]*strength.Sum, len(l.SetupSegments))
	for i := range l.Readings {
		h := &l.Readings[i]
		f := s.measured[i]
		if f == nil || !s.at(h.Sweep.Survey, h.Start) {
			continue
		}
		if sums[h.SetupSegment] == nil {
			sums[h.SetupSegment] = &strength.Sum{Rounds: make([]strength.Part, len(l.Rounds))}
		}
		sums[h.SetupSegment].Add(h, f)
	}
	out := []result.NoiseStrength{}
	for e, sum := range sums {
		if sum == nil {
			continue
		}
		at := l.SetupSegments[e]
		strength := result.NoiseStrength{Setup: at.Setup, Segment: at.Segment.Name, From: at.Segment.Low, To: at.Segment.High}
		if sum.Tell(&strength); strength.Rounds > 0 {
			out = append(out, strength)
		}
	}
	slices.SortStableFunc(out, func(a, b result.NoiseStrength) int {
		switch {
		case a.From < b.From:
			return -1
		case a.From > b.From:
			return 1
		}
		return 0
	})
	return out
}
