package rises

import (
	"math"
	"math/rand/v2"
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

// A floor that is raised by day, and bears a sign of interference then and then only, is
// broadband interference; one without is not told of.
func TestBroadband(t *testing.T) {
	raised := func(k, i int, hours float64) float64 {
		if i < 2 {
			return 0
		}
		return slowly(hours, 1.5, 5.5)
	}
	in := func(mark, rest func(r *survey.Reading)) func(r *survey.Reading, k, i int, hours float64) {
		return func(r *survey.Reading, k, i int, hours float64) {
			raised := hours > 1.875 && hours < 5.125 // the hours in which it stands 3 dB over the rest
			if raised && mark != nil {
				mark(r)
			} else if !raised && rest != nil {
				rest(r)
			}
		}
	}
	for _, test := range []struct {
		name       string
		mark, rest func(r *survey.Reading)
		says       string
	}{
		{"nothing", nil, nil, ""},
		{"modulation", func(r *survey.Reading) { modulate(r, 0.4) }, nil, "modulated by the mains in"},
		{"comb", func(r *survey.Reading) { addComb(r, -95) }, nil, "a comb is there in"},
		{"Vd", pulsing, nil, "Vd is over 1.5 dB in"},
		{"a comb that grows", func(r *survey.Reading) { addComb(r, -95) }, func(r *survey.Reading) { addComb(r, -101) }, "a comb is there all the time, 6.0 dB stronger while the floor is raised"},
		{"a comb always", func(r *survey.Reading) { addComb(r, -95) }, func(r *survey.Reading) { addComb(r, -95) }, ""},
		{"pulses always", pulsing, pulsing, ""},
	} {
		d := newTide(reporttest.SeedFor(t), raised)
		d.Rounds, d.Mark = 65, in(test.mark, test.rest) // till sunset
		rises := risesIn(d.Input())
		if test.says == "" {
			if len(rises) > 0 {
				t.Errorf("%s: %s", test.name, shown(&rises[0]))
			}
			continue
		}
		if len(rises) != 1 || rises[0].Kind != result.RiseBroadband || !reporttest.Says(rises[0].Evidence, test.says) {
			t.Errorf("%s: %d rises", test.name, len(rises))
			continue
		}
		r := rises[0]
		want := []time.Time{d.Start.Add(6750 * time.Second), d.Start.Add(18450 * time.Second)}
		if r.From.Sub(want[0]).Abs() > 10*time.Minute || r.To.Sub(want[1]).Abs() > 10*time.Minute {
			t.Errorf("%s: %v to %v, want %v", test.name, r.From, r.To, want)
		}
		if len(r.Segments) != 4 || r.Measured != 6 || len(r.Strength) != 12 {
			t.Errorf("%s: on %v of %d, %d strengths", test.name, r.Segments, r.Measured, len(r.Strength))
		}
		// From 3 to 8 dB in steady dB the mean power is ∫10^(x/10) dx/5 = 4.343·(6.31 − 2.00)/5 =
		// 3.74, for twice 0.625 hours; with 6.31 for two hours between, (1.25·3.74 + 2·6.31)/3.25 =
		// 5.32.
		if math.Abs(float64(*r.Level)-stats.Decibel(5.32)) > 0.5 {
			t.Errorf("%s: %s, want %.1f dB", test.name, shown(&r), stats.Decibel(5.32))
		}
		if (len(r.Sources) > 0) != (test.name == "modulation" || test.name == "comb") {
			t.Errorf("%s: with sources %v", test.name, r.Sources)
		}
	}
}

// A night's rise of the ionosphere stays one when a comb, or modulated noise, is there all
// the time or through the evening alone, no stronger by night than by day; one that has its own
// hours in it, and lifts the floor by them, does not.
func TestSignsInANight(t *testing.T) {
	always := func(r *survey.Reading, k, i int, hours float64) { addComb(r, -95) }
	evening := func(r *survey.Reading, k, i int, hours float64) {
		if hours > 5 && hours < 13 {
			modulate(r, 0.1)
		}
	}
	device := func(r *survey.Reading, k, i int, hours float64) {
		if hours > 11 && hours < 13 {
			modulate(r, 0.5)
		}
	}
	for _, test := range []struct {
		name  string
		mark  func(r *survey.Reading, k, i int, hours float64)
		more  float64 // of the floor, dB, from 11 to 13 hours
		kinds map[string]int
	}{
		{"nothing", nil, 0, map[string]int{result.RiseNight: 1}},
		{"a comb always", always, 0, map[string]int{result.RiseNight: 1}},
		{"modulation in the evening", evening, 0, map[string]int{result.RiseNight: 1}},
		{"a device", device, 2.5, map[string]int{result.RiseNight: 1, result.RiseBroadband: 1}}, // too small for a step
	} {
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
			return dusk(hours, 8, 3) + between(hours, 11, 13, test.more)
		})
		d.Mark = test.mark
		kinds := map[string]int{}
		for _, r := range risesIn(d.Input()) {
			kinds[r.Kind]++
			if r.Kind == result.RiseNight && !reporttest.Says(r.Evidence, "not counted as interference") {
				t.Errorf("%s: evidence %q", test.name, r.Evidence)
			}
		}
		for _, kind := range []string{result.RiseStep, result.RiseBroadband, result.RiseNight} {
			if kinds[kind] != test.kinds[kind] {
				t.Errorf("%s: %d rises of kind %s, want %d", test.name, kinds[kind], kind, test.kinds[kind])
			}
		}
	}
}

// A night's rise that all setups of one survey hear is one, though other setups listened in
// another survey.
func TestNightBesideAnotherSurvey(t *testing.T) {
	d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return dusk(hours, 10, 3) })
	d.Setups = d.Setups[:1]
	other := newTide(reporttest.SeedFor(t)+1, nil)
	other.Setups = []survey.Setup{{Antenna: "dipole", Placement: "garden"}, {Antenna: "long wire", Placement: "garden"}}
	other.Start, other.Rounds = d.Start.Add(48*time.Hour), 40
	if rises := risesIn(reporttest.WithSurvey(d.Input(), other.Input(), 2)); len(rises) != 1 || rises[0].Kind != result.RiseNight {
		t.Errorf("%d rises, want the night's", len(rises))
	}
}

// A night of which the site is not known is not said to be one, and what is heard through one
// setup of three is not the ionosphere.
func TestNoNight(t *testing.T) {
	nowhere := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return dusk(hours, 10, 3) })
	nowhere.Locator = ""
	one := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
		if k > 0 {
			return 0
		}
		return dusk(hours, 10, 3)
	})
	day := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 { return dusk(hours+5.5, 10, 2) })
	day.Rounds = 60
	for name, d := range map[string]tide{"nowhere": nowhere, "through one setup": one, "by day": day} {
		if rises := risesIn(d.Input()); len(rises) > 0 {
			t.Errorf("%s: %s", name, shown(&rises[0]))
		}
	}
}

// A device that is switched and bears a sign is told once, as a step, with its sign and the
// source that comes and goes with it.
func TestStepWithASign(t *testing.T) {
	d := newTide(reporttest.SeedFor(t), dishwasher)
	d.Mark = func(r *survey.Reading, k, i int, hours float64) {
		if dishwasher(k, i, hours) > 0 {
			addComb(r, -95)
		}
	}
	rises := risesIn(d.Input())
	if len(rises) != 1 || rises[0].Kind != result.RiseStep {
		t.Fatalf("%d rises, want one step", len(rises))
	}
	r := rises[0]
	if len(r.Sources) != 1 || !reporttest.Says(r.Evidence, "source 1 (65.0 kHz comb) comes on and goes off with it") || !reporttest.Says(r.Evidence, "a comb is there in") {
		t.Errorf("sources %v, evidence %q", r.Sources, r.Evidence)
	}
}

// A source that was on before a step, is not heard for a round and is heard again within a round of the step is not
// what was switched, though it goes off with it; after two rounds of silence it may be.
func TestNoCulpritIsHeardBefore(t *testing.T) {
	d := newTide(reporttest.SeedFor(t), dishwasher)
	log := readlog.New(reporttest.Selected(d.Input(), input.Options{}).Input)
	step := Of(log, nil)[0]
	hour := func(from, to time.Time) result.NoiseHours { return result.NoiseHours{From: from, To: to} }
	round := log.Usual
	culprit := result.NoiseSource{ID: 1, Kind: survey.FindingNotch, Hours: []result.NoiseHours{hour(*step.From, *step.To)}}
	innocent := result.NoiseSource{ID: 2, Kind: survey.FindingNotch, Hours: []result.NoiseHours{
		hour(step.From.Add(-5*round), step.From.Add(-round/4)), hour(step.From.Add(round*3/4), *step.To)}}
	other := result.NoiseSource{ID: 2, Kind: survey.FindingNotch, Hours: []result.NoiseHours{
		hour(step.From.Add(-5*round), step.From.Add(-round*3/2)), hour(step.From.Add(round/2), *step.To)}}
	for name, test := range map[string]struct {
		sources []result.NoiseSource
		want    []int
	}{
		"another":  {[]result.NoiseSource{culprit, other}, []int{1, 2}},
		"both":     {[]result.NoiseSource{culprit, innocent}, []int{1}},
		"innocent": {[]result.NoiseSource{{}, innocent}, []int{2}}, // it still goes off with it
	} {
		rises := Of(log, test.sources)
		if got := rises[0].Sources; !slices.Equal(got, test.want) {
			t.Errorf("%s: sources %v, want %v; %q", name, got, test.want, rises[0].Evidence)
		}
		if name != "another" && reporttest.Says(rises[0].Evidence, "source 2 (raised floor with notches at amateur bands) comes on") {
			t.Errorf("%s: %q", name, rises[0].Evidence)
		}
	}
}

// Single readings, a hump in a fifth of the segment, a segment that is crowded and a floor
// that is the receiver's own are no broadband rise, signs or not.
func TestRisesThatAreNone(t *testing.T) {
	raised := func(k, i int, hours float64) float64 { return slowly(hours, 1.5, 5.5) }
	marked := func(more func(r *survey.Reading)) func(r *survey.Reading, k, i int, hours float64) {
		return func(r *survey.Reading, k, i int, hours float64) {
			if hours > 1.5 && hours < 5.5 {
				modulate(r, 0.4)
				more(r)
			}
		}
	}
	for name, more := range map[string]func(r *survey.Reading){
		"hump": func(r *survey.Reading) {
			width := r.Segment.High - r.Segment.Low
			// 15 dB over a fifth lift the mean by a factor of 1 + 0.2·(31.6 − 1) = 7.1, 8.5 dB.
			r.Findings = append(r.Findings, survey.Finding{Kind: survey.FindingHump, Low: r.Segment.Low, High: r.Segment.Low + width/5, Strength: 15, Confidence: 0.9999})
		},
		"crowded": func(r *survey.Reading) { r.Occupancy = 0.93 },
		"limited": func(r *survey.Reading) { r.Quality.Flags = []string{survey.FlagReceiverLimited} },
	} {
		d := newTide(reporttest.SeedFor(t), raised)
		d.Rounds, d.Mark = 65, marked(more)
		if rises := risesIn(d.Input()); len(rises) > 0 {
			t.Errorf("%s: %s", name, shown(&rises[0]))
		}
	}
	strays := newTide(reporttest.SeedFor(t), nil)
	strays.Strays, strays.Mark = 0.02, func(r *survey.Reading, k, i int, hours float64) {
		if float64(r.Floor.Density) > tideFloor+20+3 {
			pulsing(r)
		}
	}
	if rises := risesIn(strays.Input()); len(rises) > 0 {
		t.Errorf("strays: %s", shown(&rises[0]))
	}
}

// A floor that scatters by 1 dB from round to round is raised where it stands 6 dB over the rest
// while noise is modulated, not where 2.5 dB: it takes three times its scatter.
func TestRiseOfAFloorThatScatters(t *testing.T) {
	for _, test := range []struct {
		height float64
		rises  int
	}{{6, 1}, {2.5, 0}} {
		random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 8))
		scatter := make([]float64, 65)
		for n := range scatter {
			scatter[n] = random.NormFloat64()
		}
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
			return scatter[min(64, int(hours*10))] + test.height*max(0, min(1, hours-1.5, 4.5-hours))
		})
		d.Rounds = 65
		d.Mark = func(r *survey.Reading, k, i int, hours float64) {
			if hours > 1.8 && hours < 4.2 {
				modulate(r, 0.4)
			}
		}
		if rises := risesIn(d.Input()); len(rises) != test.rises {
			t.Errorf("%.1f dB: %d rises, want %d", test.height, len(rises), test.rises)
		}
	}
}

// What a series looks like while it is not raised is known from three points on.
func TestFewQuietPoints(t *testing.T) {
	for quiet, want := range map[int]bool{2: false, 3: true, 5: true} {
		s := seriesOf(append(make([]float64, quiet), slices.Repeat([]float64{8}, 20)...)...)
		s.quiet = s.low()
		x := stretch{series: s}
		for n := quiet; n < len(s.points); n++ {
			x.points = append(x.points, n)
		}
		if x.stands() != want {
			t.Errorf("%d points not raised: stands out %v", quiet, !want)
		}
	}
}

// Humps of 15 dB over half of a segment raise its mean by 10·log(1 + 0.5·30.6) = 12.1 dB, which are
// theirs; where they take seven tenths all of it is raised.
func TestHumpsOverASegment(t *testing.T) {
	for share, want := range map[float64]float64{0.5: 12.13, 0.7: 0} {
		r := survey.Reading{Segment: survey.Segment{Low: 6e6, High: 7e6}, Findings: []survey.Finding{
			{Kind: survey.FindingHump, Low: 6e6, High: survey.Hz(6e6 + 1e6*share), Strength: 15, Confidence: 0.9999}}}
		if got := humped(&readlog.Reading{Reading: &r}); math.Abs(got-want) > 0.01 {
			t.Errorf("humps over %.1f of the segment: %.2f dB, want %.2f", share, got, want)
		}
	}
}

// A device is found in segments full of stations to seven tenths.
func TestDeviceAmongStations(t *testing.T) {
	d := newTide(reporttest.SeedFor(t), dishwasher)
	d.Rounds, d.Mark = 65, func(r *survey.Reading, k, i int, hours float64) { r.Occupancy = 0.7 }
	if rises := risesIn(d.Input()); len(rises) != 1 || rises[0].Kind != result.RiseStep {
		t.Errorf("%d rises, want the dishwasher's step", len(rises))
	}
}

// A sign that is there all the time explains a floor raised to twice its power and more where it is as
// many times stronger then: lines in power, modulation in squares of it.
func TestSignsThatGrow(t *testing.T) {
	for _, test := range []struct {
		sign     int
		growth   float64
		explains bool
	}{{signComb, 1.5, false}, {signComb, 2.5, true}, {signMains, 3, false}, {signMains, 5, true}} {
		s := seriesOf(append(make([]float64, 10), slices.Repeat([]float64{5}, 10)...)...)
		for n := range s.points {
			s.points[n].signs[test.sign], s.points[n].power[test.sign] = true, 1
			if n >= 10 {
				s.points[n].power[test.sign] = test.growth
			}
		}
		s.quiet = s.low()
		if s.explains(test.sign, []int{10, 11, 12, 13, 14, 15, 16, 17, 18, 19}) != test.explains {
			t.Errorf("sign %d, %.1f times as strong: explains the rise %v", test.sign, test.growth, !test.explains)
		}
	}
}

// In the dark a sign must change the floor by 1.5 dB as it comes or goes.
func TestFloorAtTheEdgeOfASign(t *testing.T) {
	for step, want := range map[float64]bool{1: true, 2: false} {
		s := seriesOf(0, 0, 0, 0, 0, 0, step, step, step, step, step, step, 0, 0, 0, 0, 0, 0)
		x := stretch{series: s, points: []int{6, 7, 8, 9, 10, 11}}
		if x.goesOn() != want {
			t.Errorf("a change of %.0f dB: the floor goes on as it was %v", step, !want)
		}
	}
}

// In the dark the ionosphere raises a floor for hours, not for 40 minutes.
func TestLengthOfANight(t *testing.T) {
	for long, want := range map[float64]int{0.7: 0, 1.4: 1} {
		d := newTide(reporttest.SeedFor(t), func(k, i int, hours float64) float64 {
			return max(0, min(3+8*(hours-10), 3+8*(10+long-hours))) // over 3 dB for so long
		})
		if rises := risesIn(d.Input()); len(rises) != want {
			t.Errorf("%.1f hours: %d rises, want %d", long, len(rises), want)
		}
	}
}

// Events are a rise's that were noted in the time in which it came or went, or within 2 minutes of it.
func TestEventsBesideARise(t *testing.T) {
	seen := time.Date(2026, 11, 3, 12, 0, 0, 0, time.UTC)
	for beside, want := range map[time.Duration]int{-3 * time.Minute: 0, -90 * time.Second: 1, 3 * time.Minute: 1, 6*time.Minute + 30*time.Second: 1, 8 * time.Minute: 0} {
		l := &readlog.Log{In: input.Input{Events: []survey.Event{{Survey: 1, At: seen.Add(beside), Text: "kettle on"}}}}
		if got := noted(l, nil, readlog.Edge{Survey: 1, Seen: seen, Unseen: seen.Add(5 * time.Minute)}); len(got) != want {
			t.Errorf("an event %v after the first of two readings 5 minutes apart: noted %v", beside, got)
		}
	}
}
