package noise

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// days gives hours of each of n days of 24 h.
func days(n int, spans ...reporttest.HourSpan) (all []reporttest.HourSpan) {
	for day := range n {
		for _, s := range spans {
			all = append(all, reporttest.HourSpan{From: 24*float64(day) + s.From, To: 24*float64(day) + s.To})
		}
	}
	return all
}

// A source is taken for what its habits, its lines and its modulation tell, and for nothing where
// they do not tell.
func TestFamilies(t *testing.T) {
	level, swing := []float64{6, 3, 0}, []float64{0.4, 0.3, 0.2}
	// The survey begins at 15:00 UTC. At JN58td the sun sets at 16:00 on 3 November 2026
	// (a day of 9 h 57 min about a true noon of 11:00), and rises at 6:02: 1.0 and 15.0 h on.
	for _, test := range []struct {
		name     string
		radiator reporttest.Radiator
		rounds   int
		likely   string
		evidence []string
		against  []string
	}{
		{"a supply", reporttest.Radiator{Spacing: 70.013e3, Drift: 5e-4, Warming: 0.4, Hours: []reporttest.HourSpan{{From: 2, To: 8}}, Level: level, Swing: swing}, 160,
			result.LikelySupply, []string{"while it warms", "modulated at 100 Hz", "in 60 of 60 rounds"}, nil},
		{"a lamp", reporttest.Radiator{Spacing: 65.013e3, Drift: 5e-4, Warming: 0.4, Hours: days(2, reporttest.HourSpan{From: 1.15, To: 8}), Level: level, Swing: swing}, 480,
			result.LikelyLamp, []string{"of sunset on 2 of 2 days", "comes on at 17:09, 17:09", "in the dark only"}, nil},
		{"solar", reporttest.Radiator{Spacing: 16.013e3, Drift: 1e-4, Warming: 0.4, Hours: days(4, reporttest.HourSpan{From: -8.8, To: 0.8}), Level: level, Swing: swing}, 640,
			result.LikelySolar, []string{"by day only", "of sunrise on 3 of 3 days"}, nil},
		{"all day", reporttest.Radiator{Spacing: 70.013e3, Drift: 0, Warming: 1, Hours: []reporttest.HourSpan{{From: -1, To: 100}}, Level: level}, 160,
			result.LikelySupply, nil, []string{"never heard off", "no modulation"}},
		{"on the raster, and its lines are modulated", reporttest.Radiator{Spacing: 65e3, Drift: 0, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 4}}, Level: level, Depth: 0.8}, 80,
			result.LikelySupply, []string{"its lines are modulated at 100 Hz, twice the mains frequency, in"}, []string{"5 kHz raster"}},
		{"on the raster", reporttest.Radiator{Spacing: 65e3, Drift: 0, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 4}}, Level: level}, 80,
			result.LikelyNotKnown, nil, []string{"5 kHz raster"}},
		{"on the raster all night", reporttest.Radiator{Spacing: 65e3, Drift: 0, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 9}}, Level: level}, 160,
			result.LikelyNotKnown, nil, []string{"5 kHz raster"}},
		{"on the raster, modulated, and it warms", reporttest.Radiator{Spacing: 65e3, Drift: 8e-4, Warming: 0.4, Hours: []reporttest.HourSpan{{From: 2, To: 5}}, Level: level, Swing: swing}, 80,
			result.LikelySupply, nil, []string{"5 kHz raster"}},
		{"a crystal", reporttest.Radiator{Spacing: 48e3, Drift: 0, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 9}}, Level: level}, 160,
			result.LikelyClock, []string{"as a crystal's does"}, nil},
		{"few lines", reporttest.Radiator{Spacing: 300.013e3, Drift: 0, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 4}}, Level: level}, 80,
			result.LikelyNotKnown, nil, []string{"lines in view"}},
	} {
		d := reporttest.NewDin(reporttest.SeedFor(t), test.radiator)
		d.Rounds = test.rounds
		found := sourcesIn(d.Input())
		if len(found.Sources) != 1 {
			t.Errorf("%s: %d sources", test.name, len(found.Sources))
			continue
		}
		s := found.Sources[0]
		if s.Likely != test.likely {
			t.Errorf("%s: likely %q, want %q\n%s\nagainst\n%s", test.name, s.Likely, test.likely, strings.Join(s.Evidence, "\n"), strings.Join(s.Against, "\n"))
		}
		for _, words := range test.evidence {
			if !reporttest.Says(s.Evidence, words) {
				t.Errorf("%s: evidence lacks %q: %q", test.name, words, s.Evidence)
			}
		}
		for _, words := range test.against {
			if !reporttest.Says(s.Against, words) {
				t.Errorf("%s: against lacks %q: %q", test.name, words, s.Against)
			}
		}
	}
}

// One evening that two surveys heard beside each other, a minute apart, is one day: the sun set
// once, the source came on once, and a lamp takes two days.
func TestHabitsOfSurveysBesideEachOther(t *testing.T) {
	d := reporttest.NewDin(reporttest.SeedFor(t), reporttest.Radiator{Spacing: 65.013e3, Drift: 5e-4, Warming: 0.4, Hours: []reporttest.HourSpan{{From: 3.15, To: 10}}, Level: []float64{6, 3, 0}, Swing: []float64{0.4, 0.3, 0.2}})
	d.Start = d.Start.Add(-2 * time.Hour)
	in := d.Input()
	d.Seed, d.Start, d.Radiators[0].Hours = d.Seed+1, d.Start.Add(time.Minute), []reporttest.HourSpan{{From: 3.15 - 1.0/60, To: 10 - 1.0/60}}
	s := combOf(t, sourcesIn(reporttest.WithSurvey(in, d.Input(), 2)), 65.013e3)
	if s.Likely != result.LikelySupply || !reporttest.Says(s.Evidence, "after sunset, once") || !reporttest.Says(s.Evidence, "(seen 1 time)") || reporttest.Says(s.Evidence, "local time") {
		t.Errorf("likely %q, evidence %q", s.Likely, s.Evidence)
	}
}

// A comb's own lines tell its modulation in preference to the noise that comes with it, and where
// they were too weak to tell, nothing is said of there being none.
func TestLineModulation(t *testing.T) {
	level, swing := []float64{6, 3, 0}, []float64{0.4, 0.3, 0.2}
	for _, test := range []struct {
		name          string
		depth         float64
		weak          bool
		swing         []float64
		envelope      survey.Hz
		speaks, other string // in evidence and against, "": nothing of modulation
	}{
		{"lines and noise", 0.75, false, swing, 99.98, "its lines are modulated at 100 Hz", ""},
		{"lines alone", 0.75, false, nil, 99.98, "its lines are modulated at 100 Hz", ""},
		{"noise alone", 0, false, swing, 100.01, "noise is modulated at 100 Hz", ""},
		{"neither", 0, false, nil, 0, "", "no modulation by the mains was found"},
		{"too weak to tell", 0, true, nil, 0, "", ""},
	} {
		d := reporttest.NewDin(reporttest.SeedFor(t), reporttest.Radiator{Spacing: 70.013e3, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 6}}, Level: level, Depth: test.depth, Weak: test.weak, Swing: test.swing})
		d.Rounds = 120
		s := combOf(t, sourcesIn(d.Input()), 70.013e3)
		if (s.Envelope == nil) != (test.envelope == 0) || s.Envelope != nil && *s.Envelope != test.envelope {
			t.Errorf("%s: envelope %v, want %v", test.name, s.Envelope, test.envelope)
		}
		if s.Envelope != nil && (s.Mains == nil || *s.Mains != 50) || test.depth > 0 && (s.Depth == nil || *s.Depth != test.depth) {
			t.Errorf("%s: mains %v, depth %v", test.name, s.Mains, s.Depth)
		}
		if reporttest.Says(s.Evidence, "modulated at") != (test.speaks != "") || !reporttest.Says(s.Evidence, test.speaks) {
			t.Errorf("%s: evidence %q, want %q", test.name, s.Evidence, test.speaks)
		}
		if reporttest.Says(s.Against, "no modulation") != (test.other != "") || test.other != "" && !reporttest.Says(s.Against, test.other) {
			t.Errorf("%s: against %q, want %q", test.name, s.Against, test.other)
		}
	}
}

// withFindings makes rows in which each reading holds what make gives for it.
func withFindings(seed uint64, rounds int, make func(random *rand.Rand, at time.Time, segment survey.Segment) []survey.Finding) input.Input {
	d := reporttest.NewDin(seed)
	d.Rounds = rounds
	in := d.Input()
	random := rand.New(rand.NewPCG(seed, 3))
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			r.Findings = make(random, r.Start, r.Segment)
		}
	}
	return in
}

// A fence clicks every 1.2 s: half a second holds one click or none. Clicks by chance at the
// same rate are not taken for one, though as many.
func TestClicks(t *testing.T) {
	click := func(count int) []survey.Finding {
		if count == 0 {
			return nil
		}
		return []survey.Finding{{Kind: survey.FindingImpulses, Rate: survey.Hz(2 * count), Strength: 20, Confidence: 0.9998, Low: 5e6, High: 6e6}}
	}
	for name, count := range map[string]func(random *rand.Rand, at time.Time) int{
		result.LikelyFence: func(_ *rand.Rand, at time.Time) int {
			const period = 1.2
			ms := at.Sub(time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)).Seconds()
			return int(math.Floor((ms+0.5)/period) - math.Floor(ms/period))
		},
		result.LikelyNotKnown: func(random *rand.Rand, at time.Time) (n int) {
			for left := 0.5; ; n++ {
				if left -= 1.2 * random.ExpFloat64(); left < 0 {
					return n
				}
			}
		},
	} {
		found := sourcesIn(withFindings(reporttest.SeedFor(t), 160, func(random *rand.Rand, at time.Time, _ survey.Segment) []survey.Finding {
			return click(count(random, at.Add(time.Duration(random.IntN(1.2e9)))))
		}))
		if len(found.Sources) != 1 {
			t.Fatalf("%s: %d sources", name, len(found.Sources))
		}
		s := found.Sources[0]
		// 2,880 readings of 0.5 s hold 1,200 clicks: 3 % by chance, less where they are even.
		if s.Likely != name || math.Abs(float64(*s.Rate)*1.2-1) > 0.1 || s.Kind != survey.FindingImpulses {
			t.Errorf("likely %q, want %q; %v a second, want %.2f; %q", s.Likely, name, *s.Rate, 1/1.2, s.Against)
		}
	}
}

// Clicks by chance, 0.4 a second, of which half a second holds none in 82 % of cases: no
// silence of theirs makes hours, however few listen, and none comes on before sunset. Three
// hours without, in which 216 were due in 540 s of listening, do.
func TestHoursOfClicks(t *testing.T) {
	make := func(random *rand.Rand, from, to float64) func(*rand.Rand, time.Time, survey.Segment) []survey.Finding {
		return func(_ *rand.Rand, at time.Time, s survey.Segment) []survey.Finding {
			if h := at.Sub(reporttest.NewDin(0).Start).Hours(); random.Float64() > 0.18 || h >= from && h < to {
				return nil
			}
			return []survey.Finding{{Kind: survey.FindingImpulses, Rate: 2, Strength: 20, Confidence: 0.9998}}
		}
	}
	for n := range reporttest.TrialsOr(20) {
		random := rand.New(rand.NewPCG(reporttest.SeedFor(t), uint64(n)))
		in := withFindings(1, 120, make(random, 0, 0))
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool { return s.Round%6 > 0 || s.Setup.Antenna != "whip" }) // two sweeps in 36 minutes
		found := sourcesIn(in)
		if len(found.Sources) != 1 {
			t.Fatalf("%d sources, want 1", len(found.Sources))
		}
		if s := found.Sources[0]; len(s.Hours) != 1 || reporttest.Says(s.Evidence, "sunset") || !reporttest.Says(s.Against, "never heard off") {
			t.Errorf("hours %v, %q, %q", s.Hours, s.Evidence, s.Against)
		}
	}
	s := sourcesIn(withFindings(1, 120, make(rand.New(rand.NewPCG(reporttest.SeedFor(t), 99)), 4, 7))).Sources[0]
	if len(s.Hours) != 2 || s.Hours[0].To.Sub(s.First).Hours() < 3.8 || s.Hours[1].From.Sub(s.First).Hours() > 7.5 || reporttest.Says(s.Against, "never heard off") {
		t.Errorf("hours %v, against %q", s.Hours, s.Against)
	}
}

// In 14 hours in which nothing listened no click was heard, nor was none.
func TestClicksOverAGap(t *testing.T) {
	in := withFindings(1, 200, func(_ *rand.Rand, at time.Time, s survey.Segment) []survey.Finding {
		if s.Name != "49 m" {
			return nil
		}
		return []survey.Finding{{Kind: survey.FindingImpulses, Rate: 2, Strength: 20, Confidence: 0.9998}}
	})
	for _, s := range in.Sweeps {
		if s.Round > 100 {
			s.Start = s.Start.Add(14 * time.Hour)
			for i := range s.Readings {
				s.Readings[i].Start = s.Readings[i].Start.Add(14 * time.Hour)
			}
		}
	}
	if s := sourcesIn(in).Sources[0]; len(s.Hours) != 2 || s.Hours[1].From.Sub(s.Hours[0].To) < 14*time.Hour {
		t.Errorf("hours %v", s.Hours)
	}
}

// Clicks that come through a control alone are told as they were heard.
func TestClicksThroughAControl(t *testing.T) {
	in := withFindings(1, 20, func(_ *rand.Rand, at time.Time, s survey.Segment) []survey.Finding { return nil })
	in.Surveys[0].Plan = "[[antenna]]\nname = \"wire\"\nkind = \"terminator\"\n"
	for _, s := range in.Sweeps {
		if s.Setup.Antenna == "wire" {
			s.Readings[0].Findings = []survey.Finding{{Kind: survey.FindingImpulses, Rate: 2, Strength: 20, Confidence: 0.99999}}
		}
	}
	found := sourcesIn(in) // a click in a reading of each of 40 sweeps
	if len(found.Sources) != 1 || !reporttest.Says(found.Sources[0].Evidence, "40 impulses") {
		t.Errorf("%+v", found.Sources)
	}
}

// Of four clicks no rate is told, and half a second of listening is not 0 s.
func TestFewImpulses(t *testing.T) {
	for _, test := range []struct {
		rounds int // of 6 sweeps of 3 readings of 0.5 s: 9 s each
		want   string
	}{{1, "3 impulses in 9.0 s of listening"}, {4, "3 impulses in 36 s of listening"}} {
		left, ends := 3, reporttest.NewDin(0).Start.Add(time.Duration(test.rounds)*reporttest.DinRound-time.Minute)
		found := sourcesIn(withFindings(1, test.rounds, func(_ *rand.Rand, at time.Time, _ survey.Segment) []survey.Finding {
			if left == 0 || left < 3 && left > 1 && at.Before(ends.Add(-time.Minute)) || left == 1 && at.Before(ends.Add(2*time.Second)) {
				return nil
			}
			left--
			return []survey.Finding{{Kind: survey.FindingImpulses, Rate: 2, Strength: 20, Confidence: 0.99999}}
		}))
		if len(found.Sources) != 1 {
			t.Errorf("%d sources, want 1", len(found.Sources))
			continue
		}
		listened := found.Sources[0].Listened.Seconds()
		if s := found.Sources[0]; s.RateLow == nil || math.Abs(float64(*s.RateLow)*listened-0.619) > 0.01*listened || math.Abs(float64(*s.RateHigh)*listened-8.767) > 0.01*listened {
			t.Errorf("%d rounds: three in %.1f s, interval %v to %v", test.rounds, listened, s.RateLow, s.RateHigh)
		}
		if s := found.Sources[0]; s.Rate != nil || s.String() != test.want || !reporttest.Says(s.Evidence, "too few to tell a rate") {
			t.Errorf("%d rounds: %q, want %q; rate %v, %q", test.rounds, s.String(), test.want, s.Rate, s.Evidence)
		}
	}
}

// What else stands in readings becomes a source of its own kind.
func TestOtherKinds(t *testing.T) {
	hour := func(at time.Time) float64 { return at.Sub(reporttest.NewDin(0).Start).Hours() }
	for _, test := range []struct {
		finding survey.Finding
		likely  string
		what    string
	}{
		{survey.Finding{Kind: survey.FindingMains, Envelope: 100, Mains: 50, Depth: 0.9, Shape: "two spikes", Power: 1e-20, Sigma: 1e-21, Low: 5e6, High: 6e6}, result.LikelyDimmer, "modulated at 100 Hz"},
		{survey.Finding{Kind: survey.FindingMains, Envelope: 120, Mains: 60, Depth: 0.5, Shape: "one hump", Power: 1e-20, Sigma: 1e-21, Low: 5e6, High: 6e6}, result.LikelyNotKnown, "modulated at 120 Hz"},
		{survey.Finding{Kind: survey.FindingImpulses, Rate: 100, Strength: 15}, result.LikelyDimmer, "100 a second"},
		{survey.Finding{Kind: survey.FindingImpulses, Rate: 430, Strength: 15}, result.LikelyNotKnown, "430 a second"},
		{survey.Finding{Kind: survey.FindingHump, Low: 5.95e6, High: 6.1e6, Strength: 5}, result.LikelyNotKnown, "hump of the floor at 5.95–6.1 MHz"},
		{survey.Finding{Kind: survey.FindingNotch, Low: 7e6, High: 7.2e6, Strength: -9}, result.LikelyNetwork, "notches"},
	} {
		test.finding.Confidence = 0.9999
		found := sourcesIn(withFindings(1, 60, func(_ *rand.Rand, at time.Time, s survey.Segment) []survey.Finding {
			if h := hour(at); s.Name != "49 m" || h < 1 || h > 3 {
				return nil
			}
			return []survey.Finding{test.finding}
		}))
		if len(found.Sources) != 1 {
			t.Errorf("%s: %d sources", test.what, len(found.Sources))
			continue
		}
		s := found.Sources[0]
		if s.Kind != test.finding.Kind || s.Likely != test.likely || !strings.Contains(s.String(), test.what) {
			t.Errorf("%s: %s, likely %q", test.what, s.String(), s.Likely)
		}
		if len(s.Hours) != 1 || s.Spacing != nil || s.Drift != nil || len(s.Strength) != 3 {
			t.Errorf("%s: %+v", test.what, s)
		}
	}
}

// Bands that are left out are told in order of frequency: 7 MHz before 14.
func TestNotchesInOrder(t *testing.T) {
	s := sourcesIn(withFindings(1, 20, func(_ *rand.Rand, at time.Time, s survey.Segment) []survey.Finding {
		return []survey.Finding{{Kind: survey.FindingNotch, Low: 14e6, High: 14.35e6, Strength: -9, Confidence: 0.9999},
			{Kind: survey.FindingNotch, Low: 7e6, High: 7.2e6, Strength: -9, Confidence: 0.9999}}
	})).Sources[0]
	if !reporttest.Says(s.Evidence, "but for 7–7.2 MHz and 14–14.35 MHz") {
		t.Errorf("evidence %q", s.Evidence)
	}
}

// A comb that comes through a terminator as strong as through an antenna is the receiver's
// own, and so is one whose lines a calibration knows.
func TestReceiversOwnCombs(t *testing.T) {
	plan := "[[antenna]]\nname = \"wire\"\nkind = \"terminator\"\n"
	lines := func(spacing survey.Hz) []survey.Calibration {
		c := survey.Calibration{ID: 1, Kind: survey.CalibrateLines, Receiver: "dongle", At: reporttest.NewDin(0).Start.Add(-time.Hour)}
		for n := survey.Hz(91); n <= 95; n++ { // 5.92 to 6.18 MHz
			c.Lines = append(c.Lines, survey.OwnLine{Frequency: n * spacing, Level: -90})
		}
		return []survey.Calibration{c}
	}
	for _, test := range []struct {
		name  string
		level []float64
		lines []survey.Calibration
		own   bool
		says  string
	}{
		{"through the terminator", []float64{3, 2, 2.5}, nil, true, "as strong through wire@study"},
		{"10 dB weaker through it", []float64{3, 2, -7}, nil, false, ""},
		{"calibrated", []float64{3, 2, -60}, lines(65.013e3), true, "5 of the 5 lines"},
		{"calibrated elsewhere", []float64{3, 2, -60}, lines(65.213e3), false, ""},
	} {
		d := reporttest.NewDin(reporttest.SeedFor(t), reporttest.Radiator{Spacing: 65.013e3, Warming: 1, Hours: []reporttest.HourSpan{{From: 1, To: 3}}, Level: test.level})
		d.Rounds = 40
		in := d.Input()
		in.Surveys[0].Plan, in.Surveys[0].Receiver, in.Calibrations = plan, "dongle", test.lines
		found := sourcesIn(in)
		s := combOf(t, found, 65.013e3)
		if own := s.Likely == result.LikelyOwn; own != test.own || !reporttest.Says(s.Evidence, test.says) {
			t.Errorf("%s: likely %q, %q", test.name, s.Likely, s.Evidence)
		}
		if test.lines != nil && (len(found.OwnLines) != 5 || found.OwnLines[0].Offset != nil || *found.OwnLines[0].Frequency != test.lines[0].Lines[0].Frequency) {
			t.Errorf("%s: own lines %v", test.name, found.OwnLines)
		}
	}
}

// Gains that are labels do not compare: a comb 27 dB weaker through a terminator at another gain
// is not the receiver's own, whichever was listened through when it came on.
func TestTerminatorAtAnotherGain(t *testing.T) {
	d := reporttest.NewDin(reporttest.SeedFor(t), reporttest.Radiator{Spacing: 65.013e3, Warming: 1, Hours: []reporttest.HourSpan{{From: 1, To: 3}}, Level: []float64{20, 20, -7}})
	d.Rounds = 40
	for _, first := range []string{"wire", "whip"} {
		in := d.Input()
		in.Surveys[0].Plan = "[[antenna]]\nname = \"wire\"\nkind = \"terminator\"\n"
		for _, s := range in.Sweeps {
			for i := range s.Readings {
				s.Readings[i].Gain = survey.Gain{Known: true, DB: 20}
				if s.Setup.Antenna == "wire" {
					s.Readings[i].Gain.DB = 40
				}
			}
		}
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool {
			h := s.Start.Sub(d.Start).Hours()
			return s.Setup.Antenna != first && h >= 0.9 && h < 1.2
		})
		if s := combOf(t, sourcesIn(in), 65.013e3); s.Likely == result.LikelyOwn {
			t.Errorf("%s first: likely %q, %q", first, s.Likely, s.Evidence)
		}
	}
}

// One line that four calibrations found, within 4 Hz of each other, is one: too few to make a
// comb on whose multiple it stands the receiver's own.
func TestOneLineOfManyCalibrations(t *testing.T) {
	var in input.Input
	for n := range 4 {
		d := reporttest.NewDin(reporttest.SeedFor(t)+uint64(n), reporttest.Radiator{Spacing: 65.013e3, Warming: 1, Hours: []reporttest.HourSpan{{From: 1, To: 3}}, Level: []float64{3, 2, -60}})
		d.Rounds, d.Start = 40, d.Start.AddDate(0, 0, 7*n)
		in = reporttest.WithSurvey(in, d.Input(), int64(n+1))
		in.Surveys[n].Receiver = "dongle"
		in.Calibrations = append(in.Calibrations, survey.Calibration{ID: int64(n + 1), Kind: survey.CalibrateLines, Receiver: "dongle", At: d.Start.Add(-time.Hour),
			Lines: []survey.OwnLine{{Frequency: 92*65013 + survey.Hz(20+n), Level: -90}}})
	}
	found := sourcesIn(in)
	if s := combOf(t, found, 65.013e3); s.Likely == result.LikelyOwn || len(found.OwnLines) != 1 {
		t.Errorf("likely %q, %d own lines, %q", s.Likely, len(found.OwnLines), s.Evidence)
	}
}

// A carrier that keeps its offset at three tunings is the receiver's; stations on the
// raster that happen to share an offset are not, nor is one that stands at one place.
func TestLinesThatMove(t *testing.T) {
	d := reporttest.NewDin(reporttest.SeedFor(t))
	d.Rounds = 3
	in := d.Input()
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 2))
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			add := func(f survey.Hz) {
				r.Carriers = append(r.Carriers, survey.Carrier{Frequency: f + survey.Hz(5*random.NormFloat64()), Power: 1e-7, Sigma: 1e-9, Detected: true})
			}
			add(r.Centre + 33_300)
			add(r.Centre + 60_000) // a station at each
			add(6_051_700)
			add(r.Segment.Low + survey.Hz(random.Float64())*(r.Segment.High-r.Segment.Low))
		}
	}
	lines := sourcesIn(in).OwnLines
	if len(lines) != 1 || lines[0].Frequency != nil || math.Abs(float64(*lines[0].Offset)-33_300) > 20 {
		t.Errorf("%v, want one at +33.3 kHz", lines)
	}
}
