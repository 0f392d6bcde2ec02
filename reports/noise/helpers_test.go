package noise

import (
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/rises"
)

// noiseSourcesOf finds the noise sources and the rises of what the options ask for.
func noiseSourcesOf(in input.Input, opts input.Options, zone *time.Location) result.NoiseSources {
	log := readlog.New(reporttest.Selected(in, opts).Input)
	found := Find(log).Result(zone)
	found.Rises = rises.Of(log, found.Sources)
	return found
}

// sourcesIn gives what is found, times told in the tests' zone.
func sourcesIn(in input.Input) result.NoiseSources {
	return noiseSourcesOf(in, input.Options{}, reporttest.Zone)
}
