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

// everySoOften gives a comb that was on from the beginning to the last of n detections, whose spacing
// climbs evenly.
func everySoOften(from, step time.Duration, n int) *Source {
	start := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)
	s := &Source{}
	for k := range n {
		at := start.Add(from + time.Duration(k)*step)
		s.Track = append(s.Track, track.Detection{Epoch: track.Epoch{Survey: 1, At: at}, Span: input.Span{First: at, Last: at}, Spacing: 65013 + 0.1*at.Sub(start).Hours()})
		s.Spans = []presence.Span{{Span: input.Span{First: start, Last: at}, Survey: 1}}
	}
	return s
}

// A drift is told of six epochs over an hour, from an hour after the comb came on; of six over 20
// minutes where it was never on for so long.
func TestHowLongADriftTakes(t *testing.T) {
	for _, test := range []struct {
		from, step      time.Duration
		epochs          int
		known, straight bool
	}{{time.Hour, 15 * time.Minute, 7, true, false}, {time.Hour, 15 * time.Minute, 5, false, false}, {time.Hour, 9 * time.Minute, 7, true, true},
		{40 * time.Minute, 11 * time.Minute, 7, true, true}, {0, 4 * time.Minute, 7, true, true}, {0, 150 * time.Second, 7, false, false}} {
		d, _ := driftOf(&readlog.Log{Longest: time.Hour}, everySoOften(test.from, test.step, test.epochs))
		if d.Known != test.known || d.Straight != test.straight || d.Known && math.Abs(d.Slope-0.1) > 1e-6 {
			t.Errorf("%d epochs %v apart from %v on: %+v, want known %t, straight %t", test.epochs, test.step, test.from, d, test.known, test.straight)
		}
	}
}

// The spacing of a comb that was never on for long is the median of the later half of it, a warm-up
// what it began over that: it begins 1e-3 high and settles within 10 minutes, so that of 7 epochs, 3
// minutes apart, the last four are 2.62e-4 high in the middle, by (exp(−1.2) + exp(−1.5))/2. Of 6 only
// three are in the later half: all count, 4.78e-4 high, by (exp(−0.6) + exp(−0.9))/2.
func TestSpacingNeverSettled(t *testing.T) {
	for epochs, high := range map[int]float64{7: 2.62e-4, 6: 4.78e-4} {
		s := everySoOften(0, 3*time.Minute, epochs)
		s.Spans[0].OffBefore = s.Spans[0].First.Add(-time.Minute)
		for k := range s.Track {
			s.Track[k].Spacing = 65013 * (1 + 1e-3*math.Exp(-0.3*float64(k)))
		}
		d, spacing := driftOf(&readlog.Log{Longest: time.Hour, Usual: 3 * time.Minute}, s)
		if math.Abs(spacing/65013-1-high) > 1e-6 || math.Abs(d.WarmUp-(1e-3-high)) > 1e-6 || d.WarmUpTimes != 1 {
			t.Errorf("%d epochs: %.3e high, want %.3e, warm-up %.3e", epochs, spacing/65013-1, high, d.WarmUp)
		}
	}
}

// A warm-up is told where the comb was seen within 20 minutes of when it was last known to be off.
func TestWarmUpSeen(t *testing.T) {
	for _, test := range []struct {
		off  time.Duration
		seen int
	}{{18 * time.Minute, 1}, {22 * time.Minute, 0}} {
		s := everySoOften(0, 6*time.Minute, 20)
		s.Spans[0].OffBefore = s.Spans[0].First.Add(-test.off)
		if d, _ := driftOf(&readlog.Log{Longest: time.Hour, Usual: 6 * time.Minute}, s); d.WarmUpTimes != test.seen {
			t.Errorf("off %v before: seen %d times, want %d", test.off, d.WarmUpTimes, test.seen)
		}
	}
}

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

// A spacing that stands still for an hour and climbs for another has settled where it climbs by less
// than 5e-6 of it: 0.33 of 65,013 Hz.
func TestBendOfASettledSpacing(t *testing.T) {
	for _, test := range []struct {
		climb    float64
		straight bool
	}{{0.28, true}, {0.38, false}} {
		all := everySoOften(0, 5*time.Minute, 25).Track
		for k := range all {
			all[k].Spacing = 65013 + test.climb*max(0, all[k].At.Sub(all[12].At).Hours())
		}
		if got := isStraight(all); got != test.straight {
			t.Errorf("climbs by %.2f Hz: straight %t", test.climb, got)
		}
	}
}
