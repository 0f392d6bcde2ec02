package reports

import (
	"flag"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// sources gives what is found, times told in the tests' zone.
func sourcesIn(in input.Input) result.NoiseSources {
	return noiseSourcesOf(in, input.Options{}, reporttest.Zone)
}

// risesIn gives what is found, times told in the tests' zone.
func risesIn(in input.Input) []result.Rise {
	return noiseSourcesOf(in, input.Options{}, reporttest.Zone).Rises
}

var update = flag.Bool("update", false, "rewrite golden files")
