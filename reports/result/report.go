package result

import (
	"time"

	"nightfloor/reports/doubt"
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

// DB gives a figure as results hold it, where nil is one that is not known.
func DB(x float64) *survey.DB {
	d := survey.DB(x)
	return &d
}
