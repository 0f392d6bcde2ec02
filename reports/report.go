package reports

import (
	"time"

	"nightfloor/reports/bearings"
	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/quality"
	"nightfloor/reports/rank"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/rises"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Asked says which results a report is to hold; the others stay empty.
type Asked struct{ Rank, Floor, Bearings, Noise, Quality bool }

// All asks for every result.
var All = Asked{Rank: true, Floor: true, Bearings: true, Noise: true, Quality: true}

// NewReport makes the results that are asked for of a selection, and what speaks against
// them. The seed is that of the resampling behind best_share, times of day are told in the
// zone. Version, Made and Pictures are left to the caller.
func NewReport(in input.Selection, asked Asked, seed uint64, zone *time.Location) *result.Report {
	r := &result.Report{Simulated: in.Simulated(), Surveys: in.Surveys, Doubts: quality.Doubts(in)}
	var log *readlog.Log
	var found *noise.Found
	if asked.Noise || asked.Rank || asked.Bearings && bearings.AnyTurned(in) {
		log = readlog.New(in.Input)
		found = noise.Find(log)
	}
	if asked.Rank {
		r.Rank = rank.Of(in, found, seed)
	}
	if asked.Floor {
		r.Floor = floor.Of(in)
		r.Doubts = append(r.Doubts, r.Floor.Doubts...)
	}
	if asked.Bearings {
		var sources []noise.Measured
		if found != nil {
			sources = found.Measured()
		}
		r.Bearings = bearings.Of(in, sources)
		r.Doubts = append(r.Doubts, r.Bearings.Doubts...)
	}
	if asked.Noise {
		r.Noise = found.Result(zone)
		r.Noise.Rises = rises.Of(log, r.Noise.Sources)
		r.Doubts = append(r.Doubts, r.Noise.Doubts...)
	}
	if asked.Quality {
		r.Quality = quality.Of(in)
	}
	for _, s := range in.Surveys {
		if r.Title == "" {
			r.Title = planTitle(s)
		}
		if r.Site == (survey.Site{}) {
			r.Site = s.Site
		}
	}
	return r
}

// planTitle gives the title of a survey's plan, "" where it has none.
func planTitle(s survey.Survey) string {
	if s.Plan == "" {
		return ""
	}
	// A plan stored by another version may not be read by this one: no title then.
	p, err := plan.Parse([]byte(s.Plan))
	if err != nil {
		return ""
	}
	return p.Title
}
