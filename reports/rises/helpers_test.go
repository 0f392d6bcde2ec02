package rises

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// foundIn finds the noise sources and the rises of what the options ask for.
func foundIn(in input.Input, opts input.Options) result.NoiseSources {
	log := readlog.New(reporttest.Selected(in, opts).Input)
	found := noise.Find(log).Result(reporttest.Zone)
	found.Rises = Of(log, found.Sources)
	return found
}

// risesIn gives the rises of all that there is.
func risesIn(in input.Input) []result.Rise { return foundIn(in, input.Options{}).Rises }

// shown writes a rise for the messages of tests.
func shown(r *result.Rise) string {
	level := "an unknown level"
	if r.Level != nil {
		level = fmt.Sprintf("%.2f dB", *r.Level)
	}
	return fmt.Sprintf("%s, %v to %v, %s on %v of %d segments", r.Kind, r.From, r.To, level, r.Segments, r.Measured)
}

// seriesOf makes a series of levels in dB, a point each six minutes.
func seriesOf(levels ...float64) *floorSeries {
	s := &floorSeries{apart: 0.25}
	for n, level := range levels {
		s.points = append(s.points, floorPoint{round: n, hours: 0.1 * float64(n), level: level})
	}
	return s
}
