package quality

import (
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// Own noise drifts slowly, and one visit's scatters: drift is told over means of meanVisits visits in a row,
// and from leastVisits visits on. Chosen; TestOwnNoiseOfANight fails when they move.
const (
	meanVisits  = 3
	leastVisits = 6
)

// ownNoise tells what controls show of own noise in a survey.
func ownNoise(all []*input.NoiseSeries, id int64) []result.QualityOwnNoise {
	out := []result.QualityOwnNoise{}
	for _, s := range all {
		visits := slices.DeleteFunc(slices.Clone(s.Visits), func(v input.NoiseVisit) bool { return v.Survey != id })
		if len(visits) == 0 {
			continue
		}
		q := result.QualityOwnNoise{Setup: s.Setup, Segment: s.Segment.Name, Gain: s.Gain, Visits: len(visits),
			From: visits[0].Span.First.UTC(), To: visits[len(visits)-1].Span.Last.UTC(), Drift: driftOf(visits)}
		if s.Of != "" {
			q.Of = &s.Of
		}
		out = append(out, q)
	}
	return out
}

// driftOf gives by how much the highest of the means over visits in a row stands over the lowest; nil of too few
// visits.
func driftOf(visits []input.NoiseVisit) *survey.DB {
	if len(visits) < leastVisits {
		return nil
	}
	var levels []survey.DBFSPerHz
	for i := range len(visits) - meanVisits + 1 {
		sum := 0.0
		for _, v := range visits[i : i+meanVisits] {
			sum += v.Density().Linear()
		}
		levels = append(levels, survey.DensityOf(sum/meanVisits))
	}
	return result.DB(float64(slices.Max(levels).Over(slices.Min(levels))))
}
