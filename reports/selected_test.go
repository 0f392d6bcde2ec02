package reports

import (
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// reportOf makes every result of what the options ask for.
func reportOf(in input.Input, opts input.Options) (*result.Report, []string, error) {
	s, err := input.Select(in, opts)
	if err != nil {
		return nil, s.Notes, err
	}
	return NewReport(s, All, opts.Seed, reporttest.Zone), s.Notes, nil
}

// bearingsOf makes the bearings of what the options ask for, with the patterns of its noise sources.
func bearingsOf(in input.Input, opts input.Options) result.Bearings {
	s := reporttest.Selected(in, opts)
	return BearingsOf(s, FindNoise(readlog.New(s.Input)).Measured())
}

// noiseSourcesOf finds the noise sources and the rises of what the options ask for.
func noiseSourcesOf(in input.Input, opts input.Options, zone *time.Location) result.NoiseSources {
	log := readlog.New(reporttest.Selected(in, opts).Input)
	found := FindNoise(log).Result(zone)
	found.Rises = rises(log, found.Sources)
	return found
}
