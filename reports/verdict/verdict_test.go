package verdict

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

var (
	whip   = survey.Setup{Antenna: "whip", Placement: "study"}
	loft   = survey.Setup{Antenna: "whip", Placement: "loft"}
	loop   = survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(110)}
	dipole = survey.Setup{Antenna: "dipole", Placement: "loft"}
)

// entry makes a ranking of setups in this order, 12 rounds of 14 carriers, each 1 dB behind the one
// before and the reference whip last.
func entry(v *result.Verdict, setups ...survey.Setup) result.RankSegment {
	s := result.RankSegment{Segment: "49 m", Low: 5.9e6, High: 6.2e6, Period: result.PeriodAll, Of: result.OfCarriers, Verdict: v}
	for i, x := range setups {
		advantage := float64(len(setups) - 1 - i)
		r := result.RankSetup{Setup: x, Rank: i + 1, SNRAdvantage: result.DB(advantage), Low: result.DB(advantage - 0.8), High: result.DB(advantage + 0.8), Rounds: 12, Carriers: 14}
		if x == whip {
			r.Low, r.High = result.DB(0), result.DB(0)
		}
		s.Setups = append(s.Setups, r)
	}
	return s
}

// of makes a verdict with a lead of 1.1 dB, about which so much is known.
func of(kind string, low, high float64, setups ...survey.Setup) *result.Verdict {
	return &result.Verdict{Kind: kind, Setups: setups, Lead: result.DB(1.1), Low: result.DB(low), High: result.DB(high)}
}

// Each kind of verdict has its words, with the lead over the runner-up where it is known.
func TestSentences(t *testing.T) {
	unknown := &result.Verdict{Kind: result.VerdictBest, Setups: []survey.Setup{loft}}
	air := entry(&result.Verdict{Kind: result.VerdictNoStations}, loft, whip)
	listed := air
	air.Of, listed.Of = result.OfTransmissions, result.OfListed
	apart := entry(&result.Verdict{Kind: result.VerdictFewRounds}, loft, whip)
	apart.Setups[0].Rank, apart.Setups[1].Rank = 0, 0
	var many []survey.Setup
	for _, name := range []string{"a", "b", "c", "d", "e", "f"} {
		many = append(many, survey.Setup{Antenna: name})
	}
	level := of(result.VerdictTie, -1, 1.1, loft, whip)
	level.Lead = result.DB(0.03)
	shared := entry(&result.Verdict{Kind: result.VerdictFewRounds}, loft, whip)
	shared.Setups[0].Rounds = 3 // of the 12 of the reference
	slow := entry(&result.Verdict{Kind: result.VerdictFewRounds}, loft, whip)
	slow.Doubts = []doubt.Doubt{doubt.New(doubt.SlowDrift, doubt.Count{N: 12, Noun: "round"})}
	for _, test := range []struct {
		s                 result.RankSegment
		want, words, lead string
	}{
		{entry(of(result.VerdictBest, 0.3, 1.9, loft), loft, dipole, whip), "whip@loft hears best, 1.1 dB ahead of dipole@loft (0.3 … 1.9).", "whip@loft", "1.1 (0.3 … 1.9)"},
		{entry(unknown, loft, dipole, whip), "whip@loft hears best.", "whip@loft", ""},
		{entry(of(result.VerdictBest, 1.08, 1.12, whip), whip, loft), "whip@study hears best, 1.10 dB ahead of whip@loft (1.08 … 1.12).", "whip@study", "1.10 (1.08 … 1.12)"},
		{entry(of(result.VerdictTie, -2.2, 4.4, loft, dipole), loft, dipole, whip),
			"Not told apart: whip@loft and dipole@loft. One of them hears best; whip@loft came first, 1.1 dB ahead of dipole@loft (−2.2 … 4.4).",
			"tie: whip@loft, dipole@loft", "1.1 (−2.2 … 4.4)"},
		{entry(of(result.VerdictTie, -2.2, 4.4, loft, dipole, loop, whip), loft, dipole, loop, whip),
			"No difference seen, any of the 4 may be the best: whip@loft came first, 1.1 dB ahead of dipole@loft (−2.2 … 4.4).", "tie of 4, whip@loft first", "1.1 (−2.2 … 4.4)"},
		{entry(&result.Verdict{Kind: result.VerdictFewRounds, Setups: []survey.Setup{loft, whip}}, loft, whip), "Too few rounds to tell: whip@loft came first.", "too few rounds (12)", ""},
		{entry(of(result.VerdictFewCarriers, 0.3, 1.9, loft), loft, whip),
			"Too few stations to tell: by 14 carriers whip@loft came first, 1.1 dB ahead of whip@study (0.3 … 1.9).", "too few stations (14)", ""},
		{entry(&result.Verdict{Kind: result.VerdictNoStations}, loft, whip), "No comparison: no station was heard often enough.", "no stations", ""},
		{entry(level, loft, whip), "No difference seen, either may be the best: whip@loft came first, level with whip@study (−1.0 … 1.1).", "tie: whip@loft, whip@study", "level (−1.0 … 1.1)"},
		{entry(of(result.VerdictTie, 0.1, 2.1, loft, dipole), loft, dipole, whip),
			"Not told apart: whip@loft and dipole@loft. One of them hears best; whip@loft came first, 1.1 dB ahead of dipole@loft (0.1 … 2.1), which may be chance among 3 setups.",
			"tie: whip@loft, dipole@loft", "1.1 (0.1 … 2.1)"},
		{entry(of(result.VerdictTie, -1, 1.2, many[:5]...), many...),
			"Not told apart: 5 of 6 setups. One of them hears best; a came first, 1.1 dB ahead of b (−1.0 … 1.2).", "tie of 5, a first", "1.1 (−1.0 … 1.2)"},
		{shared, "Too few rounds to tell: whip@loft came first.", "too few rounds (3)", ""},
		{slow, "Floors drift too slowly for 12 rounds to tell: whip@loft came first.", "floors drift (12 rounds)", ""},
		{air, "No comparison: too little was on the air.", "too little on the air", ""},
		{listed, "No comparison: none of the frequencies that the plan lists was heard often enough.", "none of the listed heard", ""},
		{apart, "No comparison: fewer than two setups share a round and a carrier.", "nothing to compare", ""},
		{entry(nil, loft), "Only whip@loft was measured: nothing to compare it with.", "nothing to compare", ""},
		{entry(nil), "Nothing was measured that could be compared.", "nothing to compare", ""},
	} {
		if got := Sentence(&test.s); got != test.want {
			t.Errorf("got  %s\nwant %s", got, test.want)
		}
		if got := cellOf(&test.s); got.Words != test.words || got.Lead != test.lead || got.Best != strings.Contains(Sentence(&test.s), test.words+" hears best") {
			t.Errorf("%+v, want %s | %s", got, test.words, test.lead)
		}
	}
}

// Where one antenna was measured beside a control, nothing is there to compare it with, and what the control
// tells of it stays among the doubts.
func TestOneAntennaAndAControl(t *testing.T) {
	s := entry(nil, loft, whip)
	s.Setups[1].Apart, s.Setups[1].Rank = true, 0
	s.Doubts = []doubt.Doubt{doubt.New(doubt.ControlNoise, whip, "4.0", loft), doubt.New(doubt.NoCarrier)}
	if got, want := Sentence(&s), "Only whip@loft was measured: nothing to compare it with."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if left := Doubts(&s); len(left) != 1 || left[0].Kind != doubt.ControlNoise {
		t.Errorf("%v, want what the control tells", left)
	}
	s.Doubts = nil // what holds of an antenna alone
	for _, k := range []doubt.Kind{doubt.AmplifierNoise, doubt.AmplifierUnknown, doubt.Ingress, doubt.IngressBound, doubt.Imaged} {
		s.Doubts = append(s.Doubts, doubt.Doubt{Kind: k})
	}
	if left := Doubts(&s); len(left) != len(s.Doubts) {
		t.Errorf("%v is left of %v", left, s.Doubts)
	}
	s = entry(of(result.VerdictBest, 0.3, 1.9, loft), loft, dipole, whip)
	if lines := Legend(result.Rank{Segments: []result.RankSegment{s}}); len(lines) != 1 {
		t.Errorf("%q without a control", lines)
	}
	s.Setups[2].Apart, s.Setups[2].Rank = true, 0
	if lines := Legend(result.Rank{Segments: []result.RankSegment{s}}); len(lines) != 1 || !strings.HasPrefix(lines[0], "– in place of a rank") {
		t.Errorf("%q", lines)
	}
}

// What a sentence says is not held against the ranking once more; where a setup stands alone, doubts about
// comparing go.
func TestDoubtsSaidOnce(t *testing.T) {
	few, overloaded := doubt.New(doubt.NoInterval, doubt.Count{N: 3, Noun: "round"}, 6), doubt.New(doubt.Overloaded, doubt.Count{N: 2, Noun: "overloaded reading"})
	apart, silent, lines := doubt.New(doubt.NoReference), doubt.New(doubt.NoCarrier), doubt.New(doubt.CombLines, doubt.Count{N: 2, Noun: "line"})
	all := []doubt.Doubt{few, apart, silent, lines, overloaded}
	kind := func(k string) *result.Verdict { return &result.Verdict{Kind: k} }
	unranked := entry(kind(result.VerdictFewRounds), loft, dipole)
	unranked.Setups[0].Rank, unranked.Setups[1].Rank = 0, 0
	for _, test := range []struct {
		s        result.RankSegment
		held     []doubt.Doubt
		sentence string
		want     []doubt.Doubt
	}{
		{entry(nil, loft), all, "Only whip@loft was measured: nothing to compare it with.", []doubt.Doubt{overloaded}},
		{entry(kind(result.VerdictFewRounds), loft, whip), []doubt.Doubt{few, lines}, "Too few rounds to tell, an interval needs 6: whip@loft came first.", []doubt.Doubt{lines}},
		{unranked, []doubt.Doubt{apart, few}, "No comparison: the reference was not measured in this segment.", []doubt.Doubt{few}},
		{unranked, []doubt.Doubt{few}, "No comparison: fewer than two setups share a round and a carrier.", []doubt.Doubt{few}},
		{entry(kind(result.VerdictNoStations), loft, whip), []doubt.Doubt{silent, few}, "No comparison: no station was heard often enough.", []doubt.Doubt{few}},
		{entry(of(result.VerdictTie, -1, 1, loft, whip), loft, whip), []doubt.Doubt{lines, overloaded}, Sentence(new(entry(of(result.VerdictTie, -1, 1, loft, whip), loft, whip))), []doubt.Doubt{lines, overloaded}},
	} {
		test.s.Doubts = test.held
		if got := Sentence(&test.s); got != test.sentence {
			t.Errorf("got  %s\nwant %s", got, test.sentence)
		}
		if got := Doubts(&test.s); fmt.Sprint(got) != fmt.Sprint(test.want) {
			t.Errorf("%s: %v, want %v", test.sentence, got, test.want)
		}
	}
}

// What of an advantage is signal and what is floor is said only where the levels compare; of the
// reference itself nothing is said.
func TestAgainst(t *testing.T) {
	known := entry(nil, loft, whip)
	known.Setups[0].SignalChange, known.Setups[0].FloorChange = result.DB(0.04), result.DB(-0.96)
	few := entry(nil, loft, whip)
	few.Setups[0].Low, few.Setups[0].High = nil, nil
	for _, test := range []struct {
		s    result.RankSegment
		want string
	}{
		{known, "whip@loft against the reference: +1.0 dB SNR (+0.2 … +1.8); its signals are the same, its floor is 1.0 dB lower."},
		{entry(nil, loft, whip), "whip@loft against the reference: +1.0 dB SNR (+0.2 … +1.8)."},
		{entry(nil, whip, loft), ""}, {few, ""}, {entry(nil), ""},
	} {
		if got := Against(&test.s, whip, 1); got != test.want {
			t.Errorf("got  %s\nwant %s", got, test.want)
		}
	}
}

// The table has the columns that any segment has, and a dash where one has none; single states are
// left to the sentences.
func TestGlance(t *testing.T) {
	best, state := of(result.VerdictBest, 0.3, 1.9, loft), "source 2 on"
	all, night, other := entry(best, loft, whip), entry(best, loft, whip), entry(best, loft, whip)
	night.Period, other.Segment, other.Low = result.PeriodNight, "41 m", 7.2e6
	night.Setups[1].Rounds = 11
	on := entry(of(result.VerdictTie, -1, 1, whip, loft), whip, loft)
	on.State = &state
	got := At(result.Rank{Segments: []result.RankSegment{all, on, night, other}})
	cell := Cell{"whip@loft", "1.1 (0.3 … 1.9)", true}
	if !slices.Equal(got.Periods, []string{result.PeriodAll, result.PeriodNight}) || len(got.Rows) != 2 ||
		!slices.Equal(got.Rows[0].Cells, []Cell{cell, cell}) || !slices.Equal(got.Rows[1].Cells, []Cell{cell, {Words: "–"}}) {
		t.Errorf("%+v", got)
	}
	same := entry(best, loft, whip)
	same.Period = result.PeriodNight
	if got := At(result.Rank{Segments: []result.RankSegment{all, same, other}}); len(got.Periods) != 1 || len(got.Rows) != 2 {
		t.Errorf("a night that held all rounds: %+v", got)
	}
	otherNight := other
	otherNight.Period = result.PeriodNight
	if got := At(result.Rank{Segments: []result.RankSegment{all, night, other, otherNight}}); len(got.Periods) != 2 || got.Rows[1].Cells[1] != cell {
		t.Errorf("a night that held all rounds of one segment: %+v", got)
	}
	if got := At(result.Rank{Segments: []result.RankSegment{entry(nil, loft), entry(nil)}}); got.Rows != nil || got.Periods != nil {
		t.Errorf("nothing to compare: %+v", got)
	}
	if got, want := In(&on), "12 rounds with source 2 on"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got, want := In(&night), "at night, 12 rounds"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// rise makes a step of the floor through whip and loft by so many dB on 49 m, and through whip alone on 41 m.
func rise(from, to *time.Time, level float64, sources ...int) result.Rise {
	through := func(s survey.Setup, segment string, low survey.Hz, level float64) result.NoiseStrength {
		return result.NoiseStrength{Setup: s, Segment: segment, SegmentLow: low, Level: result.DB(level), Low: result.DB(level - 0.5), High: result.DB(level + 0.5)}
	}
	return result.Rise{Kind: result.RiseStep, From: from, To: to, Level: result.DB(level), Sources: sources, Strength: []result.NoiseStrength{
		through(whip, "49 m", 5.9e6, level), through(loft, "49 m", 5.9e6, level-6), through(whip, "41 m", 7.2e6, level-2)}}
}

// What a device costs is told through the setup that hears best where that is known, with its
// interval; a rise without an interval, one of the ionosphere and a second one of the same source
// say nothing.
func TestCosts(t *testing.T) {
	at := func(h int) *time.Time { x := time.Date(2026, 11, 3, h, 40, 0, 0, time.UTC); return &x }
	unsure, night := rise(at(16), at(22), 30, 4), rise(at(16), at(22), 30, 5)
	for i := range unsure.Strength {
		unsure.Strength[i].Low = nil
	}
	night.Kind = result.RiseNight
	r := &result.Report{Rank: result.Rank{Reference: whip, Segments: []result.RankSegment{entry(of(result.VerdictBest, 0.3, 1.9, loft), loft, whip)}},
		Noise: result.NoiseSources{Sources: []result.NoiseSource{{ID: 2, Likely: result.LikelySupply}, {ID: 3, Likely: result.LikelyNotKnown}},
			Rises: []result.Rise{rise(at(18), nil, 8, 3), rise(at(16), at(22), 10, 2), unsure, night, rise(at(23), at(23), 9, 2), rise(nil, at(17), 7)}}}
	var got []string
	for _, a := range Advise(r) {
		got = append(got, a.In(time.UTC))
	}
	want := []string{
		"On 49 m use whip@loft: 1.1 dB ahead of whip@study (0.3 … 1.9).",
		"What ran 3 Nov 2026 16:40 – 22:40 UTC (source 2, which looks like a switching supply) costs 4.0 dB on 49 m (3.5 … 4.5) through whip@loft; 8.0 dB on 41 m (7.5 … 8.5) through whip@study: by so much it raises the floor.",
		"What has run since 3 Nov 2026 18:40 UTC (source 3) costs 2.0 dB on 49 m (1.5 … 2.5) through whip@loft; 6.0 dB on 41 m (5.5 … 6.5) through whip@study: by so much it raises the floor.",
		"What ran until 3 Nov 2026 17:40 UTC costs 1.0 dB on 49 m (0.5 … 1.5) through whip@loft; 5.0 dB on 41 m (4.5 … 5.5) through whip@study: by so much it raises the floor.",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
}

// More rounds are advised where the verdict says how many would tell, over all hours only.
func TestMoreRounds(t *testing.T) {
	more := func(kind string, n int, segment string, setups ...survey.Setup) result.RankSegment {
		v := of(kind, -1, 3, setups...)
		v.MoreRounds = &n
		s := entry(v, setups...)
		s.Segment = segment
		return s
	}
	night := more(result.VerdictTie, 7, "16 m", loft, whip)
	night.Period = result.PeriodNight
	r := &result.Report{Rank: result.Rank{Segments: []result.RankSegment{more(result.VerdictTie, 14, "49 m", loft, dipole, whip), night,
		more(result.VerdictFewRounds, 2, "41 m", loft, whip), more(result.VerdictFewRounds, 2, "31 m", loft, whip), more(result.VerdictTie, 30, "25 m", loop, whip),
	}}}
	got := Advise(r)
	if len(got) != 2 || got[0].Text != "At least 2 more rounds to tell anything on 41 m and 31 m." ||
		got[1].Text != "More rounds like these: about 14 would tell whip@loft from dipole@loft on 49 m and about 30 would tell loop@loft:110 from whip@study on 25 m." {
		t.Errorf("%+v", got)
	}
}

// An antenna is to be turned where a source falls and the floor with it: for each source once, in the
// segment where the floor falls the most.
func TestTurns(t *testing.T) {
	pattern := func(segment string, source int, null, fall, floor float64) result.Pattern {
		around := func(x float64) *result.Fall {
			return &result.Fall{DB: result.DB(x), Low: result.DB(x - 1), High: result.DB(x + 1)}
		}
		return result.Pattern{Antenna: "loop", Placement: "study", Segment: segment, Of: result.OfNoiseSource, Source: &source, Null: &null, Fall: around(fall), FloorFall: around(floor)}
	}
	held := pattern("49 m", 1, 20, 22, 0.5)
	if got, want := Falls(&held), "source 1 falls by 22.0 dB (21.0 … 23.0), no fall of the floor seen (−0.5 … 1.5 dB)"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	whole := pattern("49 m", 1, 20, 22, 9)
	whole.Of, whole.Source = result.OfFloor, nil
	bound := pattern("25 m", 3, 75, 0, 1.5)
	bound.Fall = &result.Fall{Low: result.DB(14)}
	r := &result.Report{Bearings: result.Bearings{Patterns: []result.Pattern{
		pattern("49 m", 1, 20, 22, 0.5), bound, pattern("31 m", 2, 128, 16.4, 1.2), pattern("49 m", 2, 128, 15.6, 2.2), whole}}}
	want := []string{"Turn loop@study to 128° / 308°: on 49 m source 2 falls by 15.6 dB (14.6 … 16.6), the floor by 2.2 dB (1.2 … 3.2), against the mean over all bearings.",
		"Turn loop@study to 075° / 255°: on 25 m source 3 falls by more than 14.0 dB, the floor by 1.5 dB (0.5 … 2.5), against the mean over all bearings."}
	var got []string
	for _, a := range Advise(r) {
		got = append(got, a.Text)
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
}

// Where a setup hears best, it is the first advice, in one sentence for all its segments; where no bearing of the loop
// may be the best, the advice to turn it says who hears better.
func TestUses(t *testing.T) {
	on := func(segment string, low survey.Hz, s result.RankSegment) result.RankSegment {
		s.Segment, s.Low = segment, low
		return s
	}
	night := entry(of(result.VerdictBest, 0.3, 1.9, dipole), dipole, whip)
	night.Period = result.PeriodNight
	source, null := 2, 128.0
	around := func(x float64) *result.Fall {
		return &result.Fall{DB: result.DB(x), Low: result.DB(x - 1), High: result.DB(x + 1)}
	}
	turn := func(segment string, low survey.Hz, source *int) result.Pattern {
		return result.Pattern{Antenna: "loop", Placement: "loft", Segment: segment, Low: low, Of: result.OfNoiseSource, Source: source, Null: &null, Fall: around(9), FloorFall: around(3)}
	}
	r := &result.Report{Rank: result.Rank{Reference: whip, Segments: []result.RankSegment{
		on("49 m", 5.9e6, entry(of(result.VerdictBest, 0.3, 1.9, loft), loft, loop, whip)), night,
		on("41 m", 7.2e6, entry(of(result.VerdictTie, 0.3, 1.9, loop, whip), loop, whip)),
		on("31 m", 9.4e6, entry(of(result.VerdictBest, 0.3, 1.9, loft), loft, dipole, loop, whip)),
		on("25 m", 11.6e6, entry(&result.Verdict{Kind: result.VerdictBest, Setups: []survey.Setup{whip}}, whip, loft))}}}
	var got []string
	for _, a := range uses(r) {
		got = append(got, a.Text)
	}
	want := []string{"On 49 m use whip@loft: 1.1 dB ahead of loop@loft:110 (0.3 … 1.9); on 31 m: 1.1 dB ahead of dipole@loft (0.3 … 1.9).", "On 25 m use whip@study."}
	if !slices.Equal(got, want) {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
	if all := Advise(r); len(all) == 0 || all[0].Text != want[0] {
		t.Errorf("first of all: %+v", all)
	}
	for segment, want := range map[string]string{"49 m": "; whip@loft hears better there even so.", "41 m": "bearings.", "25 m": "bearings."} {
		i := slices.IndexFunc(r.Rank.Segments, func(s result.RankSegment) bool { return s.Segment == segment })
		r.Bearings.Patterns = []result.Pattern{turn(segment, r.Rank.Segments[i].Low, &source)}
		if got := turns(r); len(got) != 1 || !strings.HasSuffix(got[0].Text, want) {
			t.Errorf("%s: %+v, want …%s", segment, got, want)
		}
	}
}

// A tie that no number of rounds is known to decide is told by a period's, by how little the setups differ, or by
// how well more rounds would know it; other nights are advised where these rounds tell nothing.
func TestTiesWithoutRounds(t *testing.T) {
	tie := func(segment string, low, high float64) result.RankSegment {
		s := entry(of(result.VerdictTie, low, high, loft, whip), loft, whip)
		s.Segment = segment
		return s
	}
	n := 9
	night := tie("31 m", -1, 3)
	night.Period, night.Verdict.MoreRounds = result.PeriodNight, &n
	slow := entry(&result.Verdict{Kind: result.VerdictFewRounds, Setups: []survey.Setup{loft, whip}}, loft, whip)
	slow.Segment = "16 m"
	// A number of rounds that would tell a lead apart that matters to nobody is no reason to record these.
	alike, many := tie("22 m", -0.008, 0.012), 553
	alike.Verdict.MoreRounds = &many
	dusk := alike
	dusk.Segment, dusk.Period = "41 m", result.PeriodDusk
	r := &result.Report{Rank: result.Rank{Segments: []result.RankSegment{tie("49 m", -0.4, 1.0), tie("41 m", -0.4, 1.1), dusk, tie("31 m", -3, 5), night, slow, alike}}}
	var got []string
	for _, a := range Advise(r) {
		got = append(got, a.Text)
	}
	want := []string{"Record other nights: these rounds tell nothing on 16 m, and more of the same night may not.",
		// ±0.75 dB of 12 rounds is half of that in 48
		"More rounds like these: about 36 would tell by how much whip@loft and whip@study differ on 41 m to ±0.4 dB and about 9 at night would tell whip@loft from whip@study on 31 m.",
		"No difference that matters was seen between whip@loft and whip@study on 49 m (within ±1.0 dB) and whip@loft and whip@study on 22 m (within ±0.1 dB)."}
	if !slices.Equal(got, want) {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
}

// The legend speaks of leads where there are such, and of ≈ where an advantage has no interval.
func TestLegend(t *testing.T) {
	told, two := entry(of(result.VerdictTie, 0.2, 2, loft, dipole, whip), loft, dipole, whip), entry(of(result.VerdictTie, -0.2, 2, loft, whip), loft, whip)
	bare, clear := entry(of(result.VerdictBest, 0.04, 2.3, loft), loft, whip), entry(of(result.VerdictBest, 0.06, 2.3, loft), loft, whip)
	fine := entry(of(result.VerdictBest, 0.02, 0.06, loft), loft, whip) // in hundredths
	rough := entry(&result.Verdict{Kind: result.VerdictFewRounds}, loft, whip)
	rough.Setups[0].Low, rough.Setups[0].High = nil, nil
	for _, test := range []struct {
		segments []result.RankSegment
		want     []string
	}{{[]result.RankSegment{told}, []string{"A lead"}}, {[]result.RankSegment{rough}, []string{"≈"}}, {[]result.RankSegment{told, rough}, []string{"A lead", "≈"}}, {[]result.RankSegment{two}, nil},
		{[]result.RankSegment{clear, fine}, nil}, {[]result.RankSegment{clear, bare}, []string{"A lead whose interval begins at 0.0"}}} {
		got := Legend(result.Rank{Reference: whip, Segments: test.segments})
		if !slices.EqualFunc(got, test.want, strings.HasPrefix) {
			t.Errorf("%q, want those that begin with %q", got, test.want)
		}
	}
}
