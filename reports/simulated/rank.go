// Package simulated holds what a report found in a simulated house against what was built
// into it: the ranking's differences and intervals against true advantages, and combs
// against true switching supplies. It serves the demo, which judges its own answer.
//
// It knows of the house only what Truth tells.
package simulated

import (
	"fmt"
	"io"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A Truth tells what was built into a house.
type Truth interface {
	// Advantage gives by how many dB setup hears better than reference between two
	// frequencies and times, and by how many stations.
	Advantage(setup, reference survey.Setup, low, high survey.Hz, from, to time.Time) (survey.DB, int, error)
	// Supplies lists the switching supplies that are on at any time between two.
	Supplies(from, to time.Time) []Supply
}

// A Supply is a switching supply of the house: where its comb settles, and when it is on.
type Supply struct {
	Name    string
	Spacing survey.Hz
	Hours   []Hours
}

// Hours are a stretch of time in which something is on.
type Hours struct{ From, To time.Time }

// A RankVerdict holds what the demo found about one setup against what was built
// into the scene.
type RankVerdict struct {
	Segment       string
	Setup         survey.Setup
	Found         result.RankSetup
	Built         survey.DB // advantage over the reference
	Claims, Right bool      // the interval claims a difference; in the direction that was built in
	Holds         bool      // the interval holds what was built in
}

// CompareRank sets the ranking over the whole night beside what the scene
// knows of itself.
func CompareRank(truth Truth, r *result.Report) ([]RankVerdict, error) {
	first, last := surveySpan(r)
	var out []RankVerdict
	for _, segment := range r.Rank.Segments {
		if segment.Period != result.PeriodAll {
			continue
		}
		for _, found := range segment.Setups {
			v := RankVerdict{Segment: segment.Segment, Setup: found.Setup, Found: found}
			if found.Setup != r.Rank.Reference {
				var err error
				if v.Built, _, err = truth.Advantage(found.Setup, r.Rank.Reference, segment.Low, segment.High, first, last); err != nil {
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

func surveySpan(r *result.Report) (first, last time.Time) {
	for _, s := range r.Surveys {
		if first.IsZero() || s.Start.Before(first) {
			first = s.Start
		}
		if s.End.After(last) {
			last = s.End
		}
	}
	return first, last
}

// WriteRank prints what was built in beside what was found.
func WriteRank(w io.Writer, verdicts []RankVerdict) error {
	claimed, right, intervals, held := 0, 0, 0, 0
	text := "\nWhat was built into the simulated house, dB against the reference (found, 95 % interval):\n"
	segment := ""
	for _, v := range verdicts {
		if v.Segment != segment {
			segment = v.Segment
			text += "  " + segment + "\n"
		}
		if v.Claims {
			claimed++
			if v.Right {
				right++
			}
		}
		if v.Found.SNRAdvantage == nil || v.Found.Low == nil || *v.Found.Low == *v.Found.High {
			continue
		}
		intervals++
		if v.Holds {
			held++
		}
		built := survey.DB(v.Built)
		text += fmt.Sprintf("    %-18s %6s  (%s, %s … %s)\n", v.Setup, wording.Signed(&built, 1), wording.Signed(v.Found.SNRAdvantage, 1),
			wording.Signed(v.Found.Low, 1), wording.Signed(v.Found.High, 1))
	}
	text += fmt.Sprintf("  %d of %d differences that an interval claims are there, in that direction; %d of %d intervals hold what was built in.\n", right, claimed, held, intervals)
	_, err := io.WriteString(w, text)
	return err
}
