package source

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/presence"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
)

// A slope is known to 1e-4 of the spacing an hour, or not told. That of 30 spacings over 3 hours
// which scatter by σ is known to 2σ·√(12/30)/3 h = 0.42σ an hour, and a tenth more by the median
// of slopes: that is 1e-4 where σ is 2.2e-4.
func TestHowWellADriftIsKnown(t *testing.T) {
	for _, test := range []struct {
		scatter float64
		known   bool
	}{{1.1e-4, true}, {4.4e-4, false}} {
		right := 0
		for n := range uint64(20) {
			random := rand.New(rand.NewPCG(reporttest.SeedFor(t), n))
			var all track.Track
			at := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)
			for k := range 40 { // the first hour does not count
				when := at.Add(time.Duration(k) * 6 * time.Minute)
				all = append(all, track.Detection{Epoch: track.Epoch{Survey: 1, At: when}, Span: input.Span{First: when, Last: when},
					Spacing: 65013 * (1 + test.scatter*random.NormFloat64())})
			}
			whole := presence.Span{Span: input.Span{First: at, Last: at.Add(4 * time.Hour)}, Survey: 1}
			d, spacing := driftOf(&readlog.Log{Longest: time.Hour}, &Source{Track: all, Presence: presence.Presence{Spans: []presence.Span{whole}}})
			if d.Known == test.known && math.Abs(spacing/65013-1) < 3*test.scatter/math.Sqrt(20) {
				right++
			}
		}
		if right < 17 { // where it is not straight, no slope is told
			t.Errorf("scatter of %.1e: known as it should be in %d of 20", test.scatter, right)
		}
	}
}
