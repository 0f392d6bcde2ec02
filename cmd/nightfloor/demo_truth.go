package main

import (
	"fmt"
	"io"
	"time"

	"nightfloor/capture/scene"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A verdict holds what the demo found about one setup against what was built
// into the scene.
type verdict struct {
	segment       string
	setup         survey.Setup
	found         result.RankSetup
	built         survey.DB // advantage over the reference
	claims, right bool      // the interval claims a difference; in the direction that was built in
	holds         bool      // the interval holds what was built in
}

// compareWithScene sets the ranking over the whole night beside what the scene
// knows of itself.
func compareWithScene(truth scene.Truth, r *result.Report) ([]verdict, error) {
	first, last := surveySpan(r)
	var out []verdict
	for _, segment := range r.Rank.Segments {
		if segment.Period != result.PeriodAll {
			continue
		}
		for _, found := range segment.Setups {
			v := verdict{segment: segment.Segment, setup: found.Setup, found: found}
			if found.Setup != r.Rank.Reference {
				var err error
				if v.built, _, err = truth.Advantage(found.Setup, r.Rank.Reference, segment.Low, segment.High, first, last); err != nil {
					return nil, err
				}
			}
			v.holds = found.Low != nil && *found.Low <= v.built && v.built <= *found.High
			if found.Low != nil && (*found.Low > 0 || *found.High < 0) {
				v.claims = true
				v.right = (*found.SNRAdvantage > 0) == (v.built > 0)
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

// writeTruth prints what was built in beside what was found.
func writeTruth(w io.Writer, verdicts []verdict) error {
	claimed, right, intervals, held := 0, 0, 0, 0
	text := "\nWhat was built into the simulated house, dB against the reference (found, 95 % interval):\n"
	segment := ""
	for _, v := range verdicts {
		if v.segment != segment {
			segment = v.segment
			text += "  " + segment + "\n"
		}
		if v.claims {
			claimed++
			if v.right {
				right++
			}
		}
		if v.found.SNRAdvantage == nil || v.found.Low == nil || *v.found.Low == *v.found.High {
			continue
		}
		intervals++
		if v.holds {
			held++
		}
		built := survey.DB(v.built)
		text += fmt.Sprintf("    %-18s %6s  (%s, %s … %s)\n", v.setup, wording.Signed(&built, 1), wording.Signed(v.found.SNRAdvantage, 1),
			wording.Signed(v.found.Low, 1), wording.Signed(v.found.High, 1))
	}
	text += fmt.Sprintf("  %d of %d differences that an interval claims are there, in that direction; %d of %d intervals hold what was built in.\n", right, claimed, held, intervals)
	_, err := io.WriteString(w, text)
	return err
}
