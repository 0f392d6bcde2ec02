package result

import (
	"fmt"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Schemas of the JSON documents.
const (
	SchemaRank         = "nightfloor/rank/1"
	SchemaFloor        = "nightfloor/floor/1"
	SchemaBearings     = "nightfloor/bearings/1"
	SchemaNoiseSources = "nightfloor/noise-sources/1"
	SchemaQuality      = "nightfloor/quality/1"
)

// Report is everything a survey has to say.
type Report struct {
	Title     string
	Simulated bool
	Made      time.Time
	Version   string
	Surveys   []survey.Survey
	Site      survey.Site
	Rank      Rank
	Floor     FloorTable
	Bearings  Bearings
	Noise     NoiseSources
	Quality   Quality
	Pictures  []Waterfall
	Doubts    []doubt.Doubt // over the whole survey
}

// Heading gives the report's title, or where the plan has none, what it is of.
func (r *Report) Heading() string {
	var names, numbers []string
	imports := true
	for _, s := range r.Surveys {
		numbers = append(numbers, fmt.Sprint(s.ID))
		imports = imports && s.Kind == survey.KindImport
		if s.Name != "" {
			names = append(names, s.Name)
		}
	}
	const most = 3 // names or numbers in a heading
	switch n := len(r.Surveys); {
	case r.Title != "":
		return r.Title
	case n == 0:
		return "Report"
	case imports && len(names) > 0 && n <= most:
		return "Imported recordings: " + wording.List(names)
	case imports:
		return "Imported recordings"
	case n == 1:
		return "Survey " + numbers[0]
	case n <= most:
		return "Surveys " + wording.List(numbers)
	default:
		return fmt.Sprintf("%d surveys", n)
	}
}

// DB gives a figure as results hold it, where nil is one that is not known.
func DB(x float64) *survey.DB {
	d := survey.DB(x)
	return &d
}
