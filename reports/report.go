package reports

import (
	"time"

	"nightfloor/reports/bearings"
	"nightfloor/reports/floor"
	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/onair"
	"nightfloor/reports/quality"
	"nightfloor/reports/rank"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/rises"
	"nightfloor/reports/strata"
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
func NewReport(in input.Selection, air *onair.Air, asked Asked, seed uint64, zone *time.Location) *result.Report {
	r := &result.Report{Simulated: in.Simulated(), Surveys: in.Surveys, Doubts: quality.Doubts(in)}
	if asked.Floor {
		r.Floor = floor.Of(in)
		r.Doubts = append(r.Doubts, r.Floor.Doubts...)
	}
	addNoise(r, in, air, asked, seed, zone)
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

// addNoise adds what rests on noise sources: the ranking, whose strata are their states, bearings,
// which have patterns of them, and the sources themselves.
func addNoise(r *result.Report, in input.Selection, air *onair.Air, asked Asked, seed uint64, zone *time.Location) {
	if !asked.Rank && !asked.Noise && !asked.Bearings {
		return
	}
	log := readlog.New(in.Input)
	found := noise.Find(log)
	if asked.Rank || asked.Noise {
		all := found.Result(zone)
		all.Rises = rises.Of(log, all.Sources)
		if asked.Rank {
			r.Rank = rank.Of(in, rank.House{Found: found, States: states(log, found, all.Rises), Air: air}, seed)
		}
		if asked.Noise {
			r.Noise = all
			r.Doubts = append(r.Doubts, all.Doubts...)
		}
	}
	if asked.Bearings {
		r.Bearings = bearings.Of(in, found)
		r.Doubts = append(r.Doubts, r.Bearings.Doubts...)
	}
}

// states gives the hours of what may move floors: noise sources, and steps that go with none of them.
func states(log *readlog.Log, found *noise.Found, rises []result.Rise) []strata.Source {
	all := found.Hours()
	if steps, ok := strata.Steps(rises, log.Usual); ok {
		all = append(all, steps)
	}
	return all
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
