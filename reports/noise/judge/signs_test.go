package judge

import (
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/presence"
	"nightfloor/reports/noise/source"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// roundsOf gives a survey of rounds a few minutes apart, a reading of each segment in each.
func roundsOf(rounds int, apart time.Duration, segments ...survey.Segment) *readlog.Log {
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord}}}
	for n := range rounds {
		at := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC).Add(time.Duration(n) * apart)
		s := &survey.Sweep{Survey: 1, Round: n + 1, Start: at}
		for i, segment := range segments {
			s.Readings = append(s.Readings, survey.Reading{Segment: segment, Centre: (segment.Low + segment.High) / 2, Start: at.Add(time.Duration(i) * time.Second), Duration: time.Second / 2})
		}
		in.Sweeps = append(in.Sweeps, s)
	}
	return readlog.New(in)
}

// alwaysOn gives a source that was detected in every reading, as the finding that is made of its number.
func alwaysOn(l *readlog.Log, make func(reading int) survey.Finding) *source.Source {
	s := &source.Source{}
	for i := range l.Readings {
		r, f := &l.Readings[i], make(i)
		s.Track = append(s.Track, track.Detection{Epoch: track.Epoch{Survey: 1, At: r.Start}, Span: input.SpanOf(r.Reading), Round: r.Round,
			Spacing: float64(f.Spacing), Findings: []track.Finding{{Reading: i, Finding: &f}}})
		s.Measured, s.During = append(s.Measured, &f), append(s.During, true)
	}
	for range l.Rounds {
		s.On, s.Listened, s.Share = append(s.On, true), append(s.Listened, true), append(s.Share, 1)
	}
	s.Spans = []presence.Span{{Span: l.Whole(1), Survey: 1, LastRound: len(l.Rounds) - 1}}
	return s
}

// Each sign of a comb on either side of its bound, all else being that of a switching supply.
func TestSignsOfCombs(t *testing.T) {
	night, raster, multiple := habits{byNightOnly: true, withDark: true}, "5 kHz raster", "another multiple"
	for _, test := range []struct {
		name    string
		spacing float64
		wander  float64 // of the spacing over all rounds, as a share
		rounds  int     // of six minutes; 0: 20
		lines   int     // 0: 20
		warmUp  float64
		aliases int
		habits  habits
		likely  string
		against string // "": neither of the two
	}{
		{name: "9 lines", spacing: 70.013e3, lines: 9, likely: result.LikelySupply},
		{name: "7 lines", spacing: 70.013e3, lines: 7, likely: result.LikelyNotKnown},
		{name: "7 lines, and it warms by 1.2e-4", spacing: 70.013e3, lines: 7, warmUp: 1.2e-4, likely: result.LikelySupply},
		{name: "7 lines, and it warms by 0.8e-4", spacing: 70.013e3, lines: 7, warmUp: 0.8e-4, likely: result.LikelyNotKnown},
		{name: "47 kHz for 3.5 h", spacing: 47e3, rounds: 36, likely: result.LikelyClock},
		{name: "47 kHz for 2.5 h", spacing: 47e3, rounds: 26, likely: result.LikelySupply},
		{name: "47 kHz, eight tenths within 24 ppm", spacing: 47e3, rounds: 36, wander: 30e-6, likely: result.LikelyClock},
		{name: "47 kHz, eight tenths within 40 ppm", spacing: 47e3, rounds: 36, wander: 50e-6, likely: result.LikelySupply},
		{name: "142 thirds of 1 kHz", spacing: 142e3 / 3, rounds: 36, likely: result.LikelySupply},
		{name: "45 kHz in the dark", spacing: 45.013e3, habits: night, likely: result.LikelyLamp},
		{name: "36 kHz in the dark", spacing: 36.013e3, habits: night, likely: result.LikelySupply},
		{name: "140 kHz in the dark", spacing: 140.013e3, habits: night, likely: result.LikelyLamp},
		{name: "160 kHz in the dark", spacing: 160.013e3, habits: night, likely: result.LikelySupply},
		{name: "one of 18 at another multiple", spacing: 70.013e3, rounds: 18, aliases: 1, likely: result.LikelySupply, against: multiple},
		{name: "one of 30 at another multiple", spacing: 70.013e3, rounds: 30, aliases: 1, likely: result.LikelySupply},
		// The highest of the lines, at 6.5 MHz, is the hundredth of 65 kHz: 80 and 130 Hz off.
		{name: "on the raster", spacing: 65e3 + 0.8, likely: result.LikelyNotKnown, against: raster},
		{name: "off the raster", spacing: 65e3 + 1.3, likely: result.LikelySupply},
		{name: "37 thirds of 5 kHz", spacing: 185e3 / 3, likely: result.LikelySupply},
	} {
		if test.rounds == 0 {
			test.rounds = 20
		}
		if test.lines == 0 {
			test.lines = 20
		}
		l := roundsOf(test.rounds, 6*time.Minute, survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.5e6})
		s := alwaysOn(l, func(n int) survey.Finding {
			off := 1 + test.wander*(float64(n)/float64(test.rounds-1)-0.5)
			return survey.Finding{Kind: survey.FindingComb, Spacing: survey.Hz(test.spacing * off), Lines: test.lines, Low: 5.9e6, High: 6.5e6}
		})
		for n := range test.aliases {
			s.Track[n].HarmonicAlias = true
		}
		s.Comb.Spacing, s.Comb.Drift = test.spacing, source.Drift{WarmUp: test.warmUp, WarmUpTimes: 1}
		v := Verdict{Likely: result.LikelyNotKnown}
		(&known{Log: l}).comb(&v, s, test.habits)
		if v.Likely != test.likely || reporttest.Says(v.Against, raster) != (test.against == raster) || reporttest.Says(v.Against, multiple) != (test.against == multiple) {
			t.Errorf("%s: %q, want %q; against %q", test.name, v.Likely, test.likely, v.Against)
		}
	}
}

// A fence clicks every 0.6 to 1.7 s, evenly, which takes 20 clicks and a scatter that chance has less
// than once in 1,000 times; day and night, half as often as all the time in either.
func TestSignsOfFences(t *testing.T) {
	const epochs = 60
	scatter := distuv.ChiSquared{K: epochs - 1}
	always := habits{day: 5, dayOn: 5, night: 5, nightOn: 5}
	for _, test := range []struct {
		name    string
		clicks  int
		apart   float64 // s
		chance  float64 // of a scatter as small
		habits  habits
		likely  string
		oneOnly bool // heard by day or night
	}{
		{"every 1.6 s", 25, 1.6, 1e-6, always, result.LikelyFence, false},
		{"every 1.8 s", 25, 1.8, 1e-6, always, result.LikelyNotKnown, false},
		{"every 0.65 s", 25, 0.65, 1e-6, always, result.LikelyFence, false},
		{"every 0.55 s", 25, 0.55, 1e-6, always, result.LikelyNotKnown, false},
		{"15 clicks", 15, 1.2, 1e-6, always, result.LikelyNotKnown, false},
		{"even by chance once in 2,000", 25, 1.2, 5e-4, always, result.LikelyFence, false},
		{"even by chance once in 500", 25, 1.2, 2e-3, always, result.LikelyNotKnown, false},
		{"three rounds by night", 25, 1.2, 1e-6, habits{day: 5, dayOn: 5, night: 3, nightOn: 3}, result.LikelyFence, true},
		{"half the rounds by night", 25, 1.2, 1e-6, habits{day: 5, dayOn: 5, night: 10, nightOn: 5}, result.LikelyFence, false},
		{"a fifth of the rounds by night", 25, 1.2, 1e-6, habits{day: 5, dayOn: 5, night: 10, nightOn: 2}, result.LikelyNotKnown, false},
	} {
		v := Verdict{Likely: result.LikelyNotKnown}
		long := time.Duration(float64(test.clicks) * test.apart * float64(time.Second))
		clicks(&v, presence.ImpulseCount{Impulses: test.clicks, Time: long, Epochs: epochs, Scatter: scatter.Quantile(test.chance)}, test.habits)
		if v.Likely != test.likely || reporttest.Says(v.Against, "only one was heard") != test.oneOnly {
			t.Errorf("%s: %q, want %q; against %q", test.name, v.Likely, test.likely, v.Against)
		}
	}
}

// Arcing is heard for 20 hours, in three segments, over more than an octave.
func TestSignsOfArcing(t *testing.T) {
	segments := []survey.Segment{{Name: "80 m", Low: 3.5e6, High: 3.8e6}, {Name: "49 m", Low: 5.9e6, High: 6.2e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}}
	for _, test := range []struct {
		hours    int
		segments []survey.Segment
		likely   string
	}{{24, segments, result.LikelyArcing}, {15, segments, result.LikelyNotKnown}, {24, []survey.Segment{segments[0], segments[2]}, result.LikelyNotKnown},
		{24, append([]survey.Segment{{Name: "41 m", Low: 7.2e6, High: 7.45e6}}, segments[1:]...), result.LikelyNotKnown}} {
		l := roundsOf(test.hours+1, time.Hour, test.segments...)
		s := alwaysOn(l, func(n int) survey.Finding {
			r := &l.Readings[n]
			return survey.Finding{Kind: survey.FindingMains, Envelope: 100, Mains: 50, Low: r.Segment.Low, High: r.Segment.High}
		})
		v := Verdict{Likely: result.LikelyNotKnown}
		(&known{Log: l}).modulated(&v, s, habits{day: 10, dayOn: 10, night: 10, nightOn: 10})
		if v.Likely != test.likely {
			t.Errorf("%d h in %d segments: %q, want %q", test.hours, len(test.segments), v.Likely, test.likely)
		}
	}
}

// That levels may read high is said where more than one reading in five holds no measure.
func TestMissingMeasures(t *testing.T) {
	l := roundsOf(10, 6*time.Minute, survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.5e6})
	for missing, want := range map[int]bool{1: false, 3: true} {
		s := alwaysOn(l, func(int) survey.Finding { return survey.Finding{Kind: survey.FindingComb, Spacing: 65013} })
		clear(s.Measured[:missing])
		var v Verdict
		(&known{Log: l}).common(&v, s)
		if got := reporttest.Says(v.Against, "hold no measure"); got != want {
			t.Errorf("%d of 10 missing: against %q", missing, v.Against)
		}
	}
}
