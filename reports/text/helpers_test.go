package text

import (
	"flag"
	"testing"

	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

var update = flag.Bool("update", false, "rewrite golden files")

// reportIn makes every result of what the options ask for.
func reportIn(in input.Input, opts input.Options) *result.Report {
	return reports.NewReport(reporttest.Selected(in, opts), nil, reports.All, opts.Seed, reporttest.Zone)
}

// noiseIn finds noise sources and rises.
func noiseIn(in input.Input, opts input.Options) result.NoiseSources {
	return reports.NewReport(reporttest.Selected(in, opts), nil, reports.Asked{Noise: true}, 0, reporttest.Zone).Noise
}

// bearingsIn makes bearings.
func bearingsIn(in input.Input, opts input.Options) result.Bearings {
	return reports.NewReport(reporttest.Selected(in, opts), nil, reports.Asked{Bearings: true}, 0, reporttest.Zone).Bearings
}

// rankIn ranks.
func rankIn(t testing.TB, in input.Input, opts input.Options) result.Rank {
	t.Helper()
	return reports.NewReport(reporttest.Selected(in, opts), nil, reports.Asked{Rank: true}, opts.Seed, reporttest.Zone).Rank
}
