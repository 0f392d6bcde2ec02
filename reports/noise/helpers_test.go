package noise

import (
	"math"
	"testing"
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

// combOf gives the source of a spacing, to 0.1 %.
func combOf(t testing.TB, found result.NoiseSources, spacing float64) *result.NoiseSource {
	t.Helper()
	for i := range found.Sources {
		s := &found.Sources[i]
		if s.Spacing != nil && math.Abs(float64(*s.Spacing)/spacing-1) < 1e-3 {
			return s
		}
	}
	t.Fatalf("no comb of %.0f Hz in %d sources", spacing, len(found.Sources))
	return nil
}
