package text

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/verdict"
	"nightfloor/survey"
)

// threeNights is a ranking over three nights on a broadcast band with a noise source that comes and goes,
// and on an amateur band by what is on the air; and a step of the floor.
func threeNights() result.Report {
	whip := survey.Setup{Antenna: "whip", Placement: "study"}
	loop := survey.Setup{Antenna: "loop", Placement: "study", Bearing: survey.BearingOf(70)}
	loft := survey.Setup{Antenna: "whip", Placement: "loft"}
	setup := func(s survey.Setup, rank, rounds int, advantage, half, floor float64, may bool) result.RankSetup {
		share := map[bool]float64{true: 0.6, false: 0.001}[may]
		x := result.RankSetup{Setup: s, Rank: rank, SNRAdvantage: result.DB(advantage), Low: result.DB(advantage - half), High: result.DB(advantage + half),
			SignalChange: result.DB(advantage + floor), FloorChange: result.DB(floor), BestShare: &share, MayBeBest: may, Rounds: rounds, Carriers: 14, Flags: []string{},
			Nights: &result.Nights{Count: 3, Low: result.DB(advantage - 2*half), High: result.DB(advantage + 2*half)}}
		if rounds < 20 {
			x.Nights = nil
		}
		return x
	}
	entry := func(v *result.Verdict, setups ...result.RankSetup) result.RankSegment {
		return result.RankSegment{Segment: "49 m", Low: 5.9e6, High: 6.2e6, Period: result.PeriodAll, Of: result.OfCarriers, Verdict: v, Setups: setups, Doubts: []doubt.Doubt{}}
	}
	of := func(kind string, lead, half float64, setups ...survey.Setup) *result.Verdict {
		return &result.Verdict{Kind: kind, Setups: setups, Lead: result.DB(lead), Low: result.DB(lead - half), High: result.DB(lead + half)}
	}
	all := entry(of(result.VerdictBest, 1.7, 0.9, loop), setup(loop, 1, 57, 12.5, 1.6, -9, true), setup(loft, 2, 57, 10.8, 1.4, -8, false), setup(whip, 3, 57, 0, 0, 0, false))
	on := entry(of(result.VerdictBest, 3.1, 1.2, loop), setup(loop, 1, 12, 15.3, 1.5, -12, true), setup(loft, 2, 12, 12.2, 1.4, -9, false), setup(whip, 3, 12, 0, 0, 0, false))
	off := entry(of(result.VerdictTie, 0.4, 0.9, loft, loop), setup(loft, 1, 7, 8.5, 1.9, -6, true), setup(loop, 2, 7, 8.1, 2.0, -6, true), setup(whip, 3, 7, 0, 0, 0, false))
	on.State, off.State = new("source 2 on"), new("source 2 off")
	dusk := entry(&result.Verdict{Kind: result.VerdictFewRounds, Setups: []survey.Setup{loft, whip}}, setup(loft, 1, 3, 8, 0, -6, true), setup(whip, 2, 3, 0, 0, 0, true))
	dusk.Period, dusk.Setups[0].Low, dusk.Setups[0].High, dusk.Setups[0].BestShare, dusk.Setups[1].BestShare = result.PeriodDusk, nil, nil, nil, nil
	tie := of(result.VerdictTie, 2.2, 3.9, loop, loft)
	tie.MoreRounds = new(25)
	air := entry(tie, setup(loop, 1, 12, 6.1, 3.1, 0, true), setup(loft, 2, 12, 3.9, 3.4, 0, true), setup(whip, 3, 12, 0, 0, 0, false))
	air.Segment, air.Low, air.High, air.Of = "30 m amateur", 10.1e6, 10.15e6, result.OfTransmissions
	for i := range air.Setups {
		air.Setups[i].SignalChange, air.Setups[i].FloorChange = nil, nil
	}
	from := time.Date(2026, 11, 3, 15, 40, 0, 0, time.UTC)
	to := from.Add(6 * time.Hour)
	step := result.Rise{Kind: result.RiseStep, From: &from, To: &to, Setup: whip, Level: result.DB(9.8), Low: result.DB(9.2), High: result.DB(10.4), Sources: []int{2}, Segments: []string{"49 m"}, Measured: 2,
		Strength: []result.NoiseStrength{{Setup: whip, Segment: "49 m", SegmentLow: 5.9e6, SegmentHigh: 6.2e6, Level: result.DB(9.8), Low: result.DB(9.2), High: result.DB(10.4), Rounds: 12}}}
	return result.Report{Title: "Three nights", Simulated: true, Rank: result.Rank{Reference: whip, Simulated: true, Segments: []result.RankSegment{all, on, off, dusk, air}},
		Noise: result.NoiseSources{Rises: []result.Rise{step}, Sources: []result.NoiseSource{{ID: 2, Kind: survey.FindingHump, Low: new(survey.Hz(5.9e6)), High: new(survey.Hz(6.2e6)), Likely: result.LikelyArcing}}}}
}

// Summary and table tell each state of the noise sources below its segment, what the intervals of nights
// are of, what a band without stations is compared by, and what to do.
func TestGoldenStates(t *testing.T) {
	r := threeNights()
	for name, write := range map[string]func(b *bytes.Buffer) error{
		"states-summary.txt":    func(b *bytes.Buffer) error { return WriteSummary(b, r, reporttest.Zone, Width) },
		"states-summary-80.txt": func(b *bytes.Buffer) error { return WriteSummary(b, r, reporttest.Zone, 80) },
		"states.txt":            func(b *bytes.Buffer) error { return WriteTable(b, r.Rank, reporttest.Zone, Width) },
		"states.csv":            func(b *bytes.Buffer) error { return WriteCSV(b, r.Rank) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		golden(t, name, b.Bytes())
		checkWidth(t, name, b.String())
	}
}

// Where no change of signal or floor is known, they have no columns, and what binds them to the advantage
// is not said.
func TestNoChangesNoColumns(t *testing.T) {
	r := threeNights()
	for _, segments := range [][]result.RankSegment{r.Rank.Segments, r.Rank.Segments[4:]} {
		var b bytes.Buffer
		r.Rank.Segments = segments
		if err := WriteTable(&b, r.Rank, reporttest.Zone, Width); err != nil {
			t.Fatal(err)
		}
		if known := len(segments) > 1; strings.Contains(b.String(), "Δ") != known || strings.Contains(b.String(), "Advantage =") != known {
			t.Errorf("changes known %v:\n%s", known, b.String())
		}
	}
}

// All five periods stand beside each other in Width characters, and fewer where there is less room.
func TestGlanceOfFivePeriods(t *testing.T) {
	r := threeNights()
	first := r.Rank.Segments[0]
	r.Rank.Segments = nil
	for _, p := range verdict.Periods {
		first.Period = p
		first.Setups = slices.Clone(first.Setups)
		first.Setups[0].Rounds -= 3
		r.Rank.Segments = append(r.Rank.Segments, first)
	}
	for width, want := range map[int]string{Width: "segment all hours day dusk night dawn", 80: "segment all hours day dusk night"} {
		b := Sheet{Width: width}
		glance(&b, r.Rank)
		said := strings.Join(strings.Fields(b.String()), " ")
		if !strings.Contains(said, want+" 49 m") {
			t.Errorf("%d characters do not begin with %s:\n%s", width, want, b.String())
		}
		for line := range strings.Lines(b.String()) {
			if n := len([]rune(line)) - 1; n > width {
				t.Errorf("a line of %d characters of %d: %s", n, width, line)
			}
		}
	}
}

// The ranking has the columns of which something is known, and explains those.
func TestColumnsOfRankings(t *testing.T) {
	r := threeNights()
	segments := r.Rank.Segments
	silent := segments[0]
	silent.Verdict, silent.Setups = &result.Verdict{Kind: result.VerdictNoStations}, slices.Clone(silent.Setups)
	for i := range silent.Setups {
		x := &silent.Setups[i]
		x.Rank, x.SNRAdvantage, x.Low, x.High, x.SignalChange, x.BestShare, x.Nights = 0, nil, nil, nil, nil, nil, nil
		if x.Setup == r.Rank.Reference {
			x.FloorChange = nil
		}
	}
	alone := silent
	alone.Verdict, alone.Setups = nil, silent.Setups[:1]
	nothing := silent
	nothing.Of, nothing.Setups = result.OfTransmissions, slices.Clone(silent.Setups)
	for i := range nothing.Setups {
		nothing.Setups[i].FloorChange = nil
	}
	var few, air result.RankSegment
	for _, s := range segments {
		switch {
		case s.Of == result.OfTransmissions:
			air = s
		case s.Verdict.Kind == result.VerdictFewRounds:
			few = s
		}
	}
	for name, test := range map[string]struct {
		s            result.RankSegment
		columns      string
		stars, spans bool // legends of marks and of intervals
	}{
		"all":         {segments[0], "setup advantage 95 % interval Δ signal Δ floor first rounds carriers", true, true},
		"few rounds":  {few, "setup advantage Δ signal Δ floor rounds carriers", false, false},
		"on the air":  {air, "setup advantage 95 % interval first rounds", true, true},
		"no stations": {silent, "setup Δ floor rounds carriers", false, false},
		"nothing":     {nothing, "", false, false},
		"alone":       {alone, "", false, false},
	} {
		var b bytes.Buffer
		if err := WriteTable(&b, result.Rank{Reference: r.Rank.Reference, Segments: []result.RankSegment{test.s}}, reporttest.Zone, Width); err != nil {
			t.Fatal(err)
		}
		heading := ""
		for line := range strings.Lines(b.String()) {
			if words := strings.Join(strings.Fields(line), " "); strings.HasPrefix(words, "setup ") {
				heading = words
			}
		}
		if heading != test.columns || strings.Contains(b.String(), "* may be the best") != test.stars || strings.Contains(b.String(), "Intervals are") != test.spans {
			t.Errorf("%s: want columns %q\n%s", name, test.columns, b.String())
		}
		if name == "no stations" && !strings.Contains(b.String(), "reference") {
			t.Errorf("%s: no reference in\n%s", name, b.String())
		}
	}
}

// A cell is broken between names, and within one only where it is too long for a line.
func TestCellLines(t *testing.T) {
	for words, want := range map[string]string{
		"whip@loft": "whip@loft", "tie: a@b, c@d, e f@g": "tie: a@b, c@d, |e f@g", "tie: whip of old@loft, b@c, d@e": "tie: whip of|old@loft, b@c, |d@e", "": "",
	} {
		if got := strings.Join(cellLines(words, 14), "|"); got != want {
			t.Errorf("%s: %s, want %s", words, got, want)
		}
	}
}
