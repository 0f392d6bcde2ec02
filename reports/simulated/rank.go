// Package simulated holds what a report found in a simulated house against what was built
// into it: the ranking's differences and intervals against true advantages, combs against true
// switching supplies, and their nulls against true ones. It serves the demo, which judges its own answer.
//
// It knows of the house only what Truth tells.
package simulated

import (
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A Truth tells what was built into a house.
type Truth interface {
	// Advantage gives by how many dB setup hears better than reference between two
	// frequencies and times, and by how many stations.
	Advantage(setup, reference survey.Setup, low, high survey.Hz, from, to time.Time) (survey.DB, int, error)
	// Supplies lists the switching supplies that are on at any time between two.
	Supplies(from, to time.Time) []Supply
	// SupplyNull gives the bearing at which an antenna at a placement hears least of a supply at f,
	// 0 ≤ bearing < 180, and how far that stands under what it hears most.
	SupplyNull(name string, turned survey.Setup, f survey.Hz) (bearing float64, depth survey.DB, err error)
}

// A Supply is a switching supply of the house: where its comb settles, and when it is on.
type Supply struct {
	Name    string
	Spacing survey.Hz
	Hours   []result.NoiseHours
}

// A RankVerdict holds what the demo found about one setup against what was built
// into the scene.
type RankVerdict struct {
	Segment       string
	Found         result.RankSetup
	Built         survey.DB // advantage over the reference
	Claims, Right bool      // the interval claims a difference; in the direction that was built in
	Holds         bool      // the interval holds what was built in
}

// CompareRank sets the ranking over the whole night beside what the scene
// knows of itself.
func CompareRank(truth Truth, r *result.Report) ([]RankVerdict, error) {
	span := surveySpan(r)
	var out []RankVerdict
	for _, segment := range r.Rank.Segments {
		if !segment.Headline() {
			continue
		}
		for _, found := range segment.Setups {
			v := RankVerdict{Segment: segment.Segment, Found: found}
			if found.Setup != r.Rank.Reference {
				var err error
				if v.Built, _, err = truth.Advantage(found.Setup, r.Rank.Reference, segment.Low, segment.High, span.First, span.Last); err != nil {
					return nil, err
				}
			}
			v.Holds = found.Low != nil && *found.Low <= v.Built && v.Built <= *found.High
			if found.Low != nil && (*found.Low > 0 || *found.High < 0) {
				v.Claims = true
				v.Right = (*found.SNRAdvantage > 0) == (v.Built > 0)
			}
			out = append(out, v)
		}
	}
	return out, nil
}

func surveySpan(r *result.Report) (span input.Span) {
	for _, s := range r.Surveys {
		span = span.With(input.Span{First: s.Start, Last: s.End})
	}
	return span
}
