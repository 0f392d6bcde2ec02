package rises

import (
	"math"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

func TestDeviceOnAndOff(t *testing.T) {
	d := newTide(reporttest.SeedFor(t), dishwasher)
	on := d.Start.Add(time.Duration(3.02 * float64(time.Hour)))
	d.Events = []survey.Event{{Survey: 1, At: on.Add(-90 * time.Second), Text: "dishwasher on"}, {Survey: 1, At: on.Add(20 * time.Minute), Text: "lights"}}
	rises := risesIn(d.Input())
	if len(rises) != 1 {
		t.Fatalf("%d rises, want one: %+v", len(rises), rises)
	}
	r := rises[0]
	if r.Kind != result.RiseStep || r.From == nil || r.To == nil {
		t.Fatalf("%+v", r)
	}
	// A visit takes two minutes. Whip or loop hear it, unless the wire has its turn: within two
	// visits of two minutes, three where it ends one round and begins the next, and a reading.
	if from := r.From.Sub(on); from < 0 || from > 7*time.Minute {
		t.Errorf("on at %v, want %v", r.From, on)
	}
	if to := on.Add(2 * time.Hour).Sub(*r.To); to < 0 || to > 7*time.Minute {
		t.Errorf("off at %v, want %v", r.To, on.Add(2*time.Hour))
	}
	if len(r.Segments) != 5 || slices.Contains(r.Segments, "25 m") || r.Measured != 6 {
		t.Errorf("on %v of %d", r.Segments, r.Measured)
	}
	if r.Antenna != "whip" || math.Abs(float64(*r.Level)-6) > 0.5 || !(*r.Low < 6 && *r.High > 6) {
		t.Errorf("%s: %s, want 6 dB", r.Antenna, shown(&r))
	}
	if len(r.Strength) != 10 {
		t.Errorf("%d strengths, want those of 5 segments through 2 setups", len(r.Strength))
	}
	if len(r.Events) != 1 || r.Events[0].Text != "dishwasher on" {
		t.Errorf("events %v", r.Events)
	}
	if !reporttest.Says(r.Evidence, "5 of 6 segments at once, through 2 of 3 setups") {
		t.Errorf("evidence %q", r.Evidence)
	}
}

// A round that tells of the coming on and of the going off counts once.
func TestRoundsOfAShortStep(t *testing.T) {
	rises := risesIn(newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 3, 3.6, 6) }).Input())
	if len(rises) != 1 || len(rises[0].Strength) == 0 {
		t.Fatalf("%+v", rises)
	}
	for _, x := range rises[0].Strength {
		if x.Rounds < 14 || x.Rounds > 17 { // six or so with it, and five to either side
			t.Errorf("%d rounds through %s", x.Rounds, x.Setup)
		}
	}
}

// What is on before the survey, or after it, has one end.
func TestOneEndOfADevice(t *testing.T) {
	for _, test := range []struct {
		name     string
		on, off  float64
		from, to bool
	}{{"from before", -1, 6, false, true}, {"to after", 6, 99, true, false}} {
		rises := risesIn(newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, test.on, test.off, 5) }).Input())
		if len(rises) != 1 || (rises[0].From != nil) != test.from || (rises[0].To != nil) != test.to {
			t.Errorf("%s: %+v", test.name, rises)
		}
	}
}

// With one visit a round there is no reading between the two beside a step, so that a climb
// fits as well as the step; it is found, on and off, and the two belong together though
// another device has come on meanwhile, by which the floor stands 0.5 dB higher.
func TestStepsOfFewVisits(t *testing.T) {
	trials := reporttest.TrialsOr(20)
	for n := range trials {
		d := newTide(reporttest.SeedFor(t)+uint64(n), func(k, i int, hours float64) float64 {
			return stats.Decibel(1 + between(hours, 1.6, 7.7, 3.5) + between(hours, 6.4, 20, 0.5))
		})
		d.Round, d.Rounds, d.Setups, d.Locator = 30*time.Minute, 20, d.Setups[:1], ""
		d.Common, d.Own = 0.05, 0.05
		in := d.Input()
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return s.Start.Sub(d.Start)%d.Round > 0 })
		rises := risesIn(in)
		if len(rises) != 1 || rises[0].From == nil || rises[0].To == nil {
			t.Errorf("%+v", rises)
			continue
		}
		// Readings fall on half hours: raised at 2.0 first, at 7.5 last.
		from, to := rises[0].From.Sub(d.Start).Hours(), rises[0].To.Sub(d.Start).Hours()
		if math.Abs(from-2) > 0.01 || math.Abs(to-7.5) > 0.01 {
			t.Errorf("%.2f to %.2f hours, want 2 to 7.5", from, to)
		}
	}
}

// Devices that run one within the other are told apart, and one of four rounds is found.
// Of two that overlap, the weaker one cannot be seen to go off: it is over when the floor
// is down again.
func TestSeveralDevices(t *testing.T) {
	for _, test := range []struct {
		from, to   float64 // of one that adds 7.9 times the noise; the other adds 1.5 times, 4 dB alone, from 2 to 6 hours
		want       [][2]float64
		overlapped bool
	}{{3, 5, [][2]float64{{2, 6}, {3, 5}, {10.01, 10.41}}, false}, {4, 8, [][2]float64{{2, 8}, {4, 8}, {10.01, 10.41}}, true}} {
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
			return stats.Decibel(1+between(hours, 2, 6, 1.5)+between(hours, test.from, test.to, 7.9)) + between(hours, 10.01, 10.41, 5)
		})
		rises := risesIn(d.Input())
		if len(rises) != len(test.want) {
			t.Errorf("%d rises, want %v", len(rises), test.want)
			continue
		}
		for n, r := range rises {
			if r.Kind != result.RiseStep || r.From == nil || r.To == nil {
				t.Errorf("%s: %s", r.Kind, shown(&r))
				continue
			}
			for i, at := range []time.Time{*r.From, *r.To} {
				if got := at.Sub(d.Start).Hours(); math.Abs(got-test.want[n][i]) > 0.1 { // a round
					t.Errorf("at %.2f hours, want %.2f", got, test.want[n][i])
				}
			}
			if reporttest.Says(r.Against, "going off was not seen") != (test.overlapped && n == 0) {
				t.Errorf("against %q", r.Against)
			}
		}
	}
}

// In one or two segments of six a step may be a transmitter's, and in all of one setup's, a
// terminator among them, the receiver's.
func TestStepsThatAreNoDevice(t *testing.T) {
	few := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
		if i < 3 {
			return between(hours, 3, 5, 8)
		}
		return 0
	})
	receiver := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 3, 5, 8) })
	receiver.Setups[2].Antenna = "terminator"
	receiver.Setups[2].Placement = ""
	once := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 3, 3.09, 12) }) // a round, about
	for name, d := range map[string]tide{"three of six segments": few, "terminator too": receiver, "one round": once} {
		if rises := risesIn(d.Input()); len(rises) > 0 && !(name == "terminator too" && rises[0].Kind != result.RiseStep) {
			t.Errorf("%s: %+v", name, rises)
		}
	}
	// What steps where the wiring changes is no device; with the same wiring throughout it is one.
	rewired := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 5, 99, 6-2*float64(k)) }).Input()
	if rises := risesIn(rewired); len(rises) != 1 || rises[0].Kind != result.RiseStep {
		t.Errorf("one wiring: %+v", rises)
	}
	for _, s := range rewired.Sweeps {
		v := survey.Visit{Survey: s.Survey, Number: s.Visit, Round: s.Round, Reached: s.Setup, Wiring: survey.Wiring{Idle: "open"}}
		if s.Start.Sub(rewired.Sweeps[0].Start).Hours() >= 5 {
			v.Wiring.Idle = "shorted"
		}
		rewired.Visits = append(rewired.Visits, v)
	}
	if rises := risesIn(rewired); len(rises) != 0 {
		t.Errorf("another wiring: %+v", rises)
	}
	alone := newTide(reporttest.SeedFor(t), dishwasher)
	if found := foundIn(alone.Input(), input.Options{Segment: "49 m"}); len(found.Rises) > 0 {
		t.Errorf("one segment: %+v", found.Rises)
	}
}

// The floor rises by 10 dB in three hours after sunset and falls at dawn: no step, and said
// to be the ionosphere. So it is in rounds of half an hour, of which six make the rise.
func TestNightRise(t *testing.T) {
	for _, round := range []time.Duration{6 * time.Minute, 30 * time.Minute} {
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return dusk(hours, 10, 3) })
		d.Round, d.Rounds, d.Strays = round, int(24*time.Hour/round), 0.01
		rises := risesIn(d.Input())
		if len(rises) != 1 || rises[0].Kind != result.RiseNight {
			t.Errorf("rounds of %v: %d rises", round, len(rises))
			for _, r := range rises {
				t.Logf("%s: %s", r.Kind, shown(&r))
			}
			continue
		}
		if r := rises[0]; len(r.Segments) != 6 || math.Abs(float64(*r.Level)-9) > 1.5 || len(r.Sources) > 0 {
			t.Errorf("rounds of %v: %s", round, shown(&r))
		}
	}
}

// Levels at unequal gains do not compare: a gain that changes in mid-survey by a label is no
// step, and a device before and after it is one each. Exact gains compare.
func TestRisesAtUnequalGains(t *testing.T) {
	at := func(exact bool) func(k, n int) survey.Gain {
		return func(k, n int) survey.Gain {
			g := survey.Gain{Known: true, Exact: exact, DB: survey.DB(10 + 7*k)}
			if n >= 80 {
				g.DB += 12
			}
			return g
		}
	}
	quiet, loud := newTide(reporttest.SeedFor(t), nil), newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 7, 9, 5) })
	for _, exact := range []bool{false, true} {
		quiet.Gain, loud.Gain = at(exact), at(exact)
		if rises := risesIn(quiet.Input()); len(rises) > 0 {
			t.Errorf("exact %t, nothing on: %+v", exact, rises)
		}
		rises := risesIn(loud.Input())
		ended := len(rises) == 1 && rises[0].From != nil && rises[0].To != nil && math.Abs(float64(*rises[0].Level)-5) < 0.5
		apart := len(rises) == 2 && rises[0].From != nil && rises[0].To == nil && rises[1].From == nil && rises[1].To != nil
		if exact && !ended || !exact && !apart {
			t.Errorf("exact %t: %+v", exact, rises)
		}
	}
}

// One round, or five, tell nothing of time.
func TestRisesOfAShortSurvey(t *testing.T) {
	for _, rounds := range []int{1, 5} {
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 0.05, 0.3, 10) })
		d.Rounds = rounds
		if rises := risesIn(d.Input()); rises == nil || len(rises) > 0 {
			t.Errorf("%d rounds: %+v", rounds, rises)
		}
	}
}

// Floors that scatter, wander and stray, all segments and setups alike, make no device: nor a night of
// 160 rounds, nor one of 24 long ones.
func TestChanceMakesNoStep(t *testing.T) {
	worlds := []struct {
		name        string
		common, own float64
		wander      float64
		strays      float64
		rounds      int
	}{
		{"steady", 0.3, 0.3, 0, 0.02, 160}, {"scatters", 2, 0.3, 0, 0, 160}, {"wanders", 0.3, 0.2, 0.6, 0.01, 160},
		{"wanders far", 0.2, 0.2, 1.5, 0, 160}, {"short", 1.5, 0.3, 0.6, 0, 24},
	}
	trials, seed := reporttest.TrialsOr(12), reporttest.SeedFor(t)
	wrong := 0
	for _, w := range worlds {
		here := 0
		for n := range trials {
			d := newTide(seed+uint64(n), func(k, i int, hours float64) float64 { return dusk(hours, 10, 3) })
			d.Common, d.Own, d.Wander, d.Strays, d.Rounds = w.common, w.own, w.wander, w.strays, w.rounds
			if w.rounds < 100 {
				d.Round = 30 * time.Minute
			}
			for _, r := range risesIn(d.Input()) {
				if r.Kind != result.RiseNight {
					t.Log(w.name, n, r.Kind, shown(&r), r.Against)
					here++
				}
			}
		}
		t.Logf("%s: %d devices of nothing in %d surveys", w.name, here, trials)
		wrong += here
	}
	if all := trials * len(worlds); wrong > all/1000 {
		t.Errorf("%d devices of nothing in %d surveys, want less than one in 1,000", wrong, all)
	}
}

// The interval of a rise holds the truth in 95 % of cases, floors that wander included, to
// what so many draws show; and devices of 6 dB are found.
func TestIntervalOfAStep(t *testing.T) {
	seed := reporttest.SeedFor(t)
	for _, wander := range []float64{0, 0.3} {
		trials, found, held, all := reporttest.TrialsOr(12), 0, 0, 0
		half, square := 0.0, 0.0
		for n := range trials {
			d := newTide(seed+uint64(n), dishwasher)
			d.Wander = wander
			rises := risesIn(d.Input())
			for _, r := range rises {
				if r.Kind != result.RiseStep {
					continue
				}
				found++
				for _, x := range r.Strength[:1] { // others of the same survey move alike
					truth := survey.DB(dishwasher(slices.Index(d.Setups, x.Setup), 0, 4))
					all++
					half += float64(*x.High-*x.Low) / 2
					square += float64((*x.Level - truth) * (*x.Level - truth))
					if *x.Low <= truth && truth <= *x.High {
						held++
					}
				}
			}
		}
		t.Logf("wander of %.1f dB: %d of %d found, %d of %d intervals hold the truth", wander, found, trials, held, all)
		if found != trials {
			t.Errorf("wander of %.1f dB: %d devices in %d surveys of one", wander, found, trials)
		}
		if share := float64(held) / float64(all); share < 0.95-2.6*math.Sqrt(0.95*0.05/float64(all)) {
			t.Errorf("wander of %.1f dB: %d of %d intervals hold the truth", wander, held, all)
		}
		// A 95 % interval reaches about two standard errors, which 12 draws tell to a fifth.
		if n := float64(all); half/n > 5*math.Sqrt(square/n) {
			t.Errorf("wander of %.1f dB: intervals reach %.2f dB, levels are %.2f dB off", wander, half/n, math.Sqrt(square/n))
		}
	}
}

// A device that raises the floor by 10 dB, 9 times the power, and takes 3.5 dB of it away as it
// goes, 5.5 times, is one: the two differ by 2.1 dB of power.
func TestWhatGoesDiffersFromWhatCame(t *testing.T) {
	d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
		return between(hours, 2, 4, 10) + between(hours, 4, 100, 6.5)
	})
	d.Rounds = 60
	rises := risesIn(d.Input())
	if len(rises) != 1 || rises[0].From == nil || rises[0].To == nil {
		t.Errorf("%d rises, want one that has a beginning and an end", len(rises))
		for i := range rises {
			t.Log(shown(&rises[i]))
		}
	}
}

// Nothing is said of a change over a gap of five rounds; a round that is missing makes none.
func TestStepsBesideAGap(t *testing.T) {
	for missing, want := range map[int]int{0: 1, 1: 1, 5: 0} {
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return between(hours, 3, 99, 6) })
		d.Rounds = 60
		in := d.Input()
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return s.Round > 30-missing && s.Round <= 30 })
		if rises := risesIn(in); len(rises) != want {
			t.Errorf("%d rounds missing: %d rises, want %d", missing, len(rises), want)
		}
	}
}

// A step stands out by 6 standard errors in a long series; in one of 10 points by 6·(1 + 8/10) =
// 10.8, of which too little tells the scatter. It needs three points on both sides.
func TestStepsOfFewPoints(t *testing.T) {
	// Of five points on both sides least squares with one slope know a jump to
	// √(1/5 + 1/5 + 5²/20) = 1.28 of the medians' error.
	const sigma = 1.28 * stats.MedianError
	for _, test := range []struct {
		before, after int
		size          float64 // standard errors
		found         bool
	}{{5, 5, 9.5, false}, {5, 5, 12.5, true}, {80, 80, 5.5, false}, {80, 80, 6.6, true}, {40, 3, 25, true}, {40, 2, 25, false}, {2, 40, 25, false}} {
		s := seriesOf(append(make([]float64, test.before), slices.Repeat([]float64{test.size * sigma}, test.after)...)...)
		s.scatter = 1
		if steps := s.steps(); len(steps) > 0 != test.found {
			t.Errorf("%d points before a step of %.1f standard errors, %d after it: found %v", test.before, test.size, test.after, len(steps) > 0)
		}
	}
}

// A floor that does not move at all, and is known to 0.02 dB a reading, is still taken to scatter by
// 0.05 dB: by five points on both sides and one slope a jump is known to 1.28 of the error of their
// medians, and the mean of a coming and a going to a √2 of that.
func TestIntervalOnAStillFloor(t *testing.T) {
	d := newTide(1, dishwasher)
	d.Common, d.Own, d.Mark = 0, 0, func(r *survey.Reading, k, i int, hours float64) { r.Floor.Sigma = 0.02 }
	rises := risesIn(d.Input())
	if len(rises) != 1 || rises[0].Kind != result.RiseStep {
		t.Fatalf("%d rises, want the dishwasher's step", len(rises))
	}
	const want = 1.96 * 0.05 * 1.28 * stats.MedianError / math.Sqrt2
	for _, x := range rises[0].Strength {
		if half := float64(*x.High-*x.Low) / 2; math.Abs(half/want-1) > 0.2 {
			t.Errorf("%s: %.2f ± %.3f dB, want ± %.3f", x.Segment, *x.Level, half, want)
		}
	}
}

// What goes off is the device that came on last of those within 1 dB of it, else the one most like it;
// one that differs by more than 3 dB in power and in lift is another.
func TestWhichDeviceGoes(t *testing.T) {
	l, series := readlog.New(newTide(1, nil).Input()), seriesOf()
	at := func(minutes int, before, after float64) *switching {
		return &switching{Edge: readlog.Edge{Survey: 1, Seen: l.Readings[0].Start.Add(time.Duration(minutes) * time.Minute)}, up: after > before,
			steps: []floorStep{{jump: jump{before: before, after: after, size: after - before}, series: series}}}
	}
	for _, test := range []struct {
		name     string
		on       []float64 // lifts from 0 dB, one after another
		from     float64   // off, from this level to 0 dB
		goes, of int       // which of them went off, 0: another; how many devices there were
	}{
		{"alike", []float64{6}, 4.5, 1, 1}, // 2.1 dB less power
		{"weaker", []float64{12}, 4, 0, 2}, // 10 dB less power, 8 dB less lift
		{"the last", []float64{6, 6.5}, 6, 2, 2},
		{"the first", []float64{6, 8}, 6, 1, 2},
	} {
		var found []*switching
		for i, lift := range test.on {
			found = append(found, at(60+10*i, 0, lift))
		}
		off := at(120, test.from, 0)
		all := devices(l, append(found, off))
		goes := 1 + slices.IndexFunc(all, func(d device) bool { return d.on != nil && d.off == off })
		if goes != test.goes || len(all) != test.of {
			t.Errorf("%s: number %d of %d devices went off, want %d of %d", test.name, goes, len(all), test.goes, test.of)
		}
	}
}
