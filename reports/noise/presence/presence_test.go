package presence

import (
	"math"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/survey"
)

var nightStart = time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)

// A measure is the power of a comb in standard errors, and whether the comb was detected; the zero
// measure: nothing was measured.
type measure struct {
	sigmas   float64
	detected bool
}

// presenceIn gives the presence of a comb in rounds of six minutes, a sweep of one reading through each
// setup in each, of which the measure is given by round and setup.
func presenceIn(t *testing.T, rounds, setups int, measured func(round, setup int) measure) (*readlog.Log, Presence) {
	t.Helper()
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord}}}
	for n := range rounds {
		for k := range setups {
			at := nightStart.Add(time.Duration(n)*6*time.Minute + time.Duration(k)*time.Minute)
			r := survey.Reading{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Start: at, Duration: time.Second / 2}
			if m := measured(n, k); m != (measure{}) {
				f := survey.Finding{Kind: survey.FindingComb, Spacing: 65013, Power: m.sigmas * 1e-9, Sigma: 1e-9}
				if m.detected {
					f.Confidence = 0.9999
				}
				r.Findings = []survey.Finding{f}
			}
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Setup: survey.Setup{Antenna: string(rune('a' + k))}, Start: at, Readings: []survey.Reading{r}})
		}
	}
	l := readlog.New(in)
	all := make([]*survey.Finding, len(l.Readings))
	for i := range l.Readings {
		if f := l.Readings[i].Findings; len(f) > 0 {
			all[i] = &f[0]
		}
	}
	return l, Of(l, track.Combs(l)[0], all, nil)
}

// A setup that detects the comb in three of ten rounds means something by its silence, one that
// does in two of ten does not: the bound is a quarter.
func TestSensitiveSetups(t *testing.T) {
	_, p := presenceIn(t, 20, 3, func(round, setup int) measure {
		return measure{5, setup == 0 || setup == 1 && round%10 < 3 || setup == 2 && round%10 < 2}
	})
	for k, want := range []bool{true, true, false} {
		if p.Sensitive[k] != want {
			t.Errorf("setup %d: sensitive %t, want %t", k, p.Sensitive[k], want)
		}
	}
}

// Three rounds in which nothing is detected part a stretch of time, unless what was measured by
// force in each shows the comb by four standard errors. A power of 5 standard errors is too weak
// to tell that it is missing.
func TestMeasuredBetweenDetections(t *testing.T) {
	for _, test := range []struct {
		sigmas float64
		spans  int
	}{{4.5, 1}, {3.5, 2}} {
		_, p := presenceIn(t, 20, 1, func(round, setup int) measure {
			if round >= 10 && round < 13 {
				return measure{test.sigmas, false}
			}
			return measure{5, true}
		})
		if len(p.Spans) != test.spans {
			t.Errorf("%.1f standard errors by force: %d spans, want %d", test.sigmas, len(p.Spans), test.spans)
		}
	}
}

// One sweep in which a comb was measured and not detected parts a stretch of time where its share of
// the usual power lies four standard errors under a quarter: of a usual power of 40 standard
// errors, at 10 − 4 = 6. The usual power must be 6 standard errors.
func TestMeasuredOff(t *testing.T) {
	for _, test := range []struct {
		usual, then float64
		spans       int
	}{{40, 5.5, 2}, {40, 6.5, 1}, {6.2, -4, 2}, {5.8, -4, 1}} {
		l, p := presenceIn(t, 20, 1, func(round, setup int) measure {
			if round == 10 {
				return measure{test.then, false}
			}
			return measure{test.usual, true}
		})
		if len(p.Spans) != test.spans || p.Switched != (test.spans > 1) {
			t.Errorf("%.1f of %.1f: %d spans, switched %t, want %d", test.then, test.usual, len(p.Spans), p.Switched, test.spans)
			continue
		}
		if test.spans == 1 {
			continue
		}
		// It was known to be off while the reading of that sweep was taken.
		if r := &l.Readings[10]; p.Spans[0].OffAfter != r.Start || p.Spans[1].OffBefore != r.End() {
			t.Errorf("off after %v and before %v, want %v and %v", p.Spans[0].OffAfter, p.Spans[1].OffBefore, r.Start, r.End())
		}
		if p.On[10] || p.During[10] || p.ShareOfRounds() != 0.95 || p.NeverOff() {
			t.Errorf("on in the round: %t, share %v, never off: %t", p.On[10], p.ShareOfRounds(), p.NeverOff())
		}
	}
}

// A spacing that was steady begins anew where it jumps up by 1.2e-4 and falls again, not where by
// 0.8e-4, nor where it stays.
func TestJumpOfARestart(t *testing.T) {
	for _, test := range []struct {
		jump, after float64
		want        bool
	}{{1.2e-4, 0.6e-4, true}, {0.8e-4, 0.4e-4, false}, {1.2e-4, 1.2e-4, false}} {
		var all track.Track
		for n := range 12 {
			spacing := 65013.0
			if n == 6 {
				spacing *= 1 + test.jump
			} else if n > 6 {
				spacing *= 1 + test.after
			}
			all = append(all, track.Detection{Epoch: track.Epoch{Survey: 1, At: nightStart.Add(time.Duration(n) * 6 * time.Minute)}, Spacing: spacing,
				Findings: []track.Finding{{Finding: &survey.Finding{Kind: survey.FindingComb}}}})
		}
		if got := restarts(all)[all[6].Epoch]; got != test.want {
			t.Errorf("up by %.1e, then at %.1e: anew %t, want %t", test.jump, test.after, got, test.want)
		}
	}
}

// What comes a minute after a jump is of the same visit and bears nothing out, nor does a spacing
// that stays up from then on; three minutes after it does.
func TestDetectionsBesideARestart(t *testing.T) {
	for after, want := range map[time.Duration]bool{time.Minute: false, 3 * time.Minute: true} {
		var all track.Track
		add := func(at time.Duration, off float64) {
			all = append(all, track.Detection{Epoch: track.Epoch{Survey: 1, At: nightStart.Add(at)}, Spacing: 65013 * (1 + off),
				Findings: []track.Finding{{Finding: &survey.Finding{Kind: survey.FindingComb}}}})
		}
		add(0, 0)
		add(10*time.Minute, 0)
		add(20*time.Minute, 1.2e-4)
		add(20*time.Minute+after, 0.6e-4)
		add(26*time.Minute, 1.2e-4)
		if got := restarts(all)[all[2].Epoch]; got != want {
			t.Errorf("lower %v after the jump: anew %t, want %t", after, got, want)
		}
	}
}

// A click each second but for a silence in the middle: one in which seven were due is chance, one in
// which 15 were parts them. 12 must be due.
func TestSilenceAmongClicks(t *testing.T) {
	for silence, want := range map[int]int{8: 1, 18: 2} { // 8·100/108 = 7.4, 18·100/118 = 15.3
		var all []listening
		for n := range 100 + silence {
			at := nightStart.Add(time.Duration(n) * time.Second)
			x := listening{Span: input.Span{First: at, Last: at.Add(time.Second)}}
			if n < 50 || n >= 50+silence {
				x.impulses = 1
			}
			all = append(all, x)
		}
		if parts := clickParts(all, time.Hour); len(parts) != want {
			t.Errorf("%d s of silence: %d parts, want %d", silence, len(parts), want)
		}
	}
}

// Of times in order beside gives what nearest gives of any.
func TestBesideAnInstant(t *testing.T) {
	at := func(minute int) time.Time { return time.Date(2026, 11, 3, 15, minute, 0, 0, time.UTC) }
	times := []time.Time{at(2), at(4), at(4), at(9)}
	for n := range 4 + 1 {
		for minute := range 12 {
			for _, step := range []int{-1, 1} {
				if got, want := beside(times[:n], at(minute), step), nearest(at(minute), time.Duration(step), times[:n]...); !got.Equal(want) {
					t.Errorf("%d times, minute %d, step %d: %v, want %v", n, minute, step, got, want)
				}
			}
		}
	}
}

// A comb that the second of two setups shows, in rounds 4 to 9 of 20: it is on from its first
// detection to its last, and off in the silent rounds, but for what lies between a detection and
// the next visit that could have shown it. Where it is on from the beginning, that takes in all of its
// first round.
func TestHoursOnAndOff(t *testing.T) {
	minutes := func(spans []input.Span) (all [][2]float64) {
		for _, s := range spans {
			all = append(all, [2]float64{s.First.Sub(nightStart).Minutes(), s.Last.Sub(nightStart).Minutes()})
		}
		return all
	}
	const long = 0.5 / 60 // of a reading, in minutes
	hold := func(from, to int) (on, off [][2]float64) {
		l, p := presenceIn(t, 20, 2, func(round, setup int) measure {
			return measure{5, setup == 1 && round >= from && round < to}
		})
		a, b := p.Hours(l)
		return minutes(a), minutes(b)
	}
	near := func(what string, got [][2]float64, want ...[2]float64) {
		t.Helper()
		ok := len(got) == len(want)
		for i := range want {
			ok = ok && math.Abs(got[i][0]-want[i][0]) < 2*long && math.Abs(got[i][1]-want[i][1]) < 2*long
		}
		if !ok {
			t.Errorf("%s %.2f minutes, want %.2f", what, got, want)
		}
	}
	on, off := hold(4, 10) // the second setup, a minute after the first, in rounds of six
	near("on", on, [2]float64{25, 55})
	near("off", off, [2]float64{0, 19}, [2]float64{61, 115})
	on, off = hold(0, 10) // never seen to come on
	near("on from the beginning", on, [2]float64{0, 55})
	near("off after that", off, [2]float64{61, 115})
	on, off = hold(10, 20)
	near("on to the end", on, [2]float64{61, 115})
	near("off before", off, [2]float64{0, 55})
}
