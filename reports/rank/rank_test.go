package rank

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
	"nightfloor/survey"
	"nightfloor/survey/sun"
)

func TestRankOfAStillWorld(t *testing.T) {
	w := reporttest.Still()
	rank := mustRank(t, w.Input(), input.Options{})
	s := rank.Segments[0]
	if rank.Reference != w.Setup(0) || !rank.Simulated || s.Period != result.PeriodAll {
		t.Fatalf("reference %v, simulated %v, period %s", rank.Reference, rank.Simulated, s.Period)
	}
	for i, k := range []int{1, 0, 2} { // 5, 0, −2 dB
		x := s.Setups[i]
		if x.Setup != w.Setup(k) || x.Rank != i+1 || x.MayBeBest != (i == 0) || x.Rounds != 24 || x.Carriers != 4 {
			t.Errorf("place %d: %+v", i+1, x)
		}
		// 72 readings at 60 dB over their error and more: 0.01 dB is many sigmas.
		reporttest.Near(t, "advantage", x.SNRAdvantage, w.Gain[k], 0.02)
		// Floors are −98, −104 and −97 dBFS/Hz at one gain; signal = advantage + floor change.
		reporttest.Near(t, "floor change", x.FloorChange, w.Floor[k]-w.Floor[0], 0.001)
		reporttest.Near(t, "signal change", x.SignalChange, w.Gain[k]+w.Floor[k]-w.Floor[0], 0.02)
	}
	if *s.Setups[0].BestShare != 1 || *s.Setups[1].BestShare != 0 {
		t.Errorf("best shares %v and %v, want 1 and 0", *s.Setups[0].BestShare, *s.Setups[1].BestShare)
	}
	if *s.Setups[1].Low != 0 || *s.Setups[1].High != 0 {
		t.Error("the reference against itself is 0")
	}
	// The same rows and seed give the same answer.
	if again := mustRank(t, w.Input(), input.Options{}).Segments[0]; *again.Setups[0].Low != *s.Setups[0].Low {
		t.Error("not the same twice")
	}
}

func TestRankNeedsNoGainForSNR(t *testing.T) {
	w := reporttest.Still()
	w.Gains = []survey.Gain{{DB: 20, Known: true, Exact: true}, {DB: 30, Known: true, Exact: true}, {}}
	s := mustRank(t, w.Input(), input.Options{}).Segments[0]
	x := reporttest.Find(t, s, w.Setup(1))
	reporttest.Near(t, "advantage", x.SNRAdvantage, 5, 0.02)
	// −104 against −98 dBFS/Hz, and its receiver had 10 dB more gain: −16 dB.
	reporttest.Near(t, "floor change", x.FloorChange, -16, 0.001)
	x = reporttest.Find(t, s, w.Setup(2))
	reporttest.Near(t, "advantage without gain", x.SNRAdvantage, -2, 0.02)
	if x.FloorChange != nil || x.SignalChange != nil {
		t.Errorf("levels compared over an unknown gain: %v %v", x.FloorChange, x.SignalChange)
	}
	if !reporttest.HasDoubt(s, "gain is not known against the reference's: SNR compares, levels do not; where recordings do not tell the gain, give it with import --gain") {
		t.Errorf("no word about the gain in %q", s.Doubts)
	}
	// One of a visit's readings is left out of the visit.
	w.Gains = nil
	in := w.Input()
	in.Sweeps[1].Readings[0].Gain = survey.Gain{}
	if s = mustRank(t, in, input.Options{}).Segments[0]; !reporttest.HasDoubt(s, "1 reading left out: the gain changed within a visit by an unknown amount; where recordings do not tell the gain, give it") {
		t.Errorf("no word about the reading in %q", s.Doubts)
	}
}

// One reading of unknown gain, be it of the reference, is left out of the changes of signal and
// floor; what the other rounds say of them stays, and all rounds count for SNR.
func TestOneReadingOfUnknownGain(t *testing.T) {
	for _, of := range []int{0, 1} {
		w := reporttest.Still()
		in := w.Input()
		for _, s := range in.Sweeps {
			if s.Setup == w.Setup(of) && s.Round == 5 {
				r := &s.Readings[0]
				r.Gain = survey.Gain{}
				r.Floor.Density += 40 // at whatever gain that was
				for i := range r.Carriers {
					r.Carriers[i].Power, r.Carriers[i].Sigma = 1e4*r.Carriers[i].Power, 1e4*r.Carriers[i].Sigma
				}
			}
		}
		s := mustRank(t, in, input.Options{}).Segments[0]
		for k := 1; k < 3; k++ {
			x := reporttest.Find(t, s, w.Setup(k))
			reporttest.Near(t, "advantage", x.SNRAdvantage, w.Gain[k], 0.02)
			reporttest.Near(t, "floor change", x.FloorChange, w.Floor[k]-w.Floor[0], 0.001)
			reporttest.Near(t, "signal change", x.SignalChange, w.Gain[k]+w.Floor[k]-w.Floor[0], 0.02)
			if x.Rounds != 24 {
				t.Errorf("%d rounds, want 24", x.Rounds)
			}
		}
		if !reporttest.HasDoubt(s, "in 1 round the gain of it or the reference is not known") || !reporttest.HasDoubt(s, "import --gain") {
			t.Errorf("doubts %q", s.Doubts)
		}
	}
	// Gains that are known, and differ by labels alone, say nothing of any round.
	w := reporttest.Still()
	w.Gains = []survey.Gain{{DB: 20, Known: true}, {DB: 20, Known: true}, {DB: 20, Known: true}}
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(0) && s.Round == 5 {
			s.Readings[0].Gain.DB = 30
		}
	}
	if x := reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(1)); x.FloorChange != nil || x.SignalChange != nil {
		t.Errorf("levels compared over steps that nobody measured: %v %v", x.FloorChange, x.SignalChange)
	}
}

// The change of signal is of the same rounds as that of the floor: what fades in a round of unknown
// gain counts for the advantage alone.
func TestSignalAndFloorAreOfTheSameRounds(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(1) && s.Round == 5 {
			r := &s.Readings[0]
			r.Gain = survey.Gain{}
			for i := range r.Carriers {
				r.Carriers[i].Power *= 100 // 20 dB
			}
		}
	}
	x := reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(1))
	reporttest.Near(t, "signal change", x.SignalChange, w.Gain[1]+w.Floor[1]-w.Floor[0], 0.02)
	if *x.SNRAdvantage < survey.DB(w.Gain[1]+0.04) {
		t.Errorf("advantage %.2f: the round counts for nothing", *x.SNRAdvantage)
	}
}

func TestFewRounds(t *testing.T) {
	w := reporttest.Still()
	for rounds := 1; rounds <= 6; rounds++ {
		w.Rounds = rounds
		s := mustRank(t, w.Input(), input.Options{}).Segments[0]
		x := reporttest.Find(t, s, w.Setup(1))
		reporttest.Near(t, "advantage", x.SNRAdvantage, 5, 0.05)
		if interval := x.Low != nil && x.High != nil && x.BestShare != nil; interval != (rounds >= 6) {
			t.Errorf("%d rounds: interval %v", rounds, interval)
		}
		if reporttest.HasDoubt(s, "an interval needs 6") != (rounds < 6) {
			t.Errorf("%d rounds: doubts %q", rounds, s.Doubts)
		}
		if rounds < 6 && !reporttest.Find(t, s, w.Setup(2)).MayBeBest {
			t.Errorf("%d rounds: a setup is ruled out without an interval", rounds)
		}
	}
}

func TestInterruptedSurvey(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	// Setup 1 stands in for the first half only, setup 2 never beside the reference.
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(s *survey.Sweep) bool {
		switch s.Setup {
		case w.Setup(1):
			return s.Round > 12
		case w.Setup(2):
			return s.Round > 4
		}
		return s.Round <= 4
	})
	s := mustRank(t, in, input.Options{}).Segments[0]
	x := reporttest.Find(t, s, w.Setup(1))
	reporttest.Near(t, "advantage", x.SNRAdvantage, 5, 0.03)
	if x.Rounds != 8 { // 5 to 12
		t.Errorf("%d rounds, want 8", x.Rounds)
	}
	y := reporttest.Find(t, s, w.Setup(2))
	if y.SNRAdvantage != nil || y.Rank != 0 || y.MayBeBest || !reporttest.HasDoubt(s, "never in a round with the reference") {
		t.Errorf("a setup that never met the reference: %+v, doubts %q", y, s.Doubts)
	}
}

func TestLocalLinesAndOverload(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		r := &s.Readings[0]
		// A local line, 20 dB stronger through setup 1: not a station.
		power := 1e-4
		if s.Setup == w.Setup(1) {
			power = 1e-2
		}
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: 9632400, Power: power, Sigma: 1e-9, Detected: true})
	}
	// An overloaded reading that would spoil round 3.
	for _, s := range in.Sweeps {
		if s.Round == 3 && s.Setup == w.Setup(1) {
			s.Readings[0].Quality.Flags = []string{survey.FlagOverload}
			s.Readings[0].Floor = &survey.Floor{Density: -40}
		}
	}
	s := mustRank(t, in, input.Options{}).Segments[0]
	x := reporttest.Find(t, s, w.Setup(1))
	reporttest.Near(t, "advantage", x.SNRAdvantage, 5, 0.03)
	if x.Rounds != 23 || x.Carriers != 4 || !slices.Equal(x.Flags, []string{survey.FlagOverload}) {
		t.Errorf("%d rounds, %d carriers, flags %v; want 23, 4, overload", x.Rounds, x.Carriers, x.Flags)
	}
	if !reporttest.HasDoubt(s, "1 line off") || !reporttest.HasDoubt(s, "3 overloaded readings left out") {
		t.Errorf("doubts %q", s.Doubts)
	}
	// Outside the broadcast bands it stands still where stations fade.
	for _, s := range in.Sweeps {
		s.Readings[0].Segment.Name, s.Readings[0].Segment.Low, s.Readings[0].Segment.High = "wide", 8e6, 11e6
	}
	s = mustRank(t, in, input.Options{}).Segments[0]
	if got := reporttest.Find(t, s, w.Setup(1)).Carriers; got != 4 || !reporttest.HasDoubt(s, "1 line left out, on no raster") {
		t.Errorf("%d carriers in an unnamed segment, want 4; doubts %q", got, s.Doubts)
	}
}

func TestOverloadedThroughout(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(2) {
			s.Readings[0].Quality.Flags = []string{survey.FlagOverload}
		}
	}
	s := mustRank(t, in, input.Options{}).Segments[0]
	if x := reporttest.Find(t, s, w.Setup(2)); x.SNRAdvantage != nil || x.Rank != 0 || !reporttest.HasDoubt(s, "all its readings were left out") {
		t.Errorf("%+v, doubts %q", x, s.Doubts)
	}
	reporttest.Near(t, "the other", reporttest.Find(t, s, w.Setup(1)).SNRAdvantage, 5, 0.02)
}

func TestNothingMeasured(t *testing.T) {
	s, err := input.Select(input.Input{}, input.Options{})
	rank := Of(s, House{}, 0)
	if err != nil || len(s.Notes) != 0 || rank.Segments == nil || len(rank.Segments) != 0 {
		t.Errorf("%+v, %v, %v", rank, s.Notes, err)
	}
}

func TestMissingForcedMeasurement(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(2) { // one of 4 carriers is never measured through one of 3 setups: 8 %
			s.Readings[0].Carriers = s.Readings[0].Carriers[1:]
		}
	}
	s := mustRank(t, in, input.Options{}).Segments[0]
	if !reporttest.HasDoubt(s, "8 % of the carriers' powers are missing") {
		t.Errorf("doubts %q", s.Doubts)
	}
}

func TestReceiverLimitedFloorsRankNobody(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(2) {
			s.Readings[0].Quality.Flags = []string{survey.FlagReceiverLimited}
		}
	}
	x := reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(2))
	reporttest.Near(t, "advantage", x.SNRAdvantage, -2, 0.02)
	if x.FloorChange != nil || !slices.Contains(x.Flags, survey.FlagReceiverLimited) {
		t.Errorf("floor change %v, flags %v", x.FloorChange, x.Flags)
	}
}

func TestStationGoesOffMidRound(t *testing.T) {
	// One station leaves the air between the two visits of a round, once in setup 1's
	// disfavour: 40 dB in one of 24 rounds of one of 4 carriers would move a plain
	// mean by 40/24/4 = 0.42 dB.
	w := reporttest.Still()
	w.Fade = 3
	plain := float64(*reporttest.Find(t, mustRank(t, w.Input(), input.Options{}).Segments[0], w.Setup(1)).SNRAdvantage)
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Round == 9 && s.Setup == w.Setup(1) {
			s.Readings[0].Carriers[2].Power *= 1e-4
		}
	}
	x := reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(1))
	reporttest.Near(t, "advantage", x.SNRAdvantage, plain, 0.1)
}

func TestBestShareOfEquals(t *testing.T) {
	skipShort(t)
	// Two setups of one advantage over a third: over many surveys each is first in
	// half of the draws. 60 surveys, share's sd at most 0.5: error 0.065.
	var sum float64
	const n = 60
	for i := range uint64(n) {
		w := reporttest.NewWorld(500 + i)
		w.Gain, w.Floor, w.Sweeps = []float64{0, 8, 8}, []float64{-98, -98, -98}, 1
		sum += *reporttest.Find(t, mustRank(t, w.Input(), input.Options{}).Segments[0], w.Setup(1)).BestShare
	}
	if share := sum / n; math.Abs(share-0.5) > 0.2 {
		t.Errorf("best share %.2f, want 0.5 ± 0.2", share)
	}
}

func TestReference(t *testing.T) {
	setup := func(antenna, placement string, deg float64) survey.Setup {
		s := survey.Setup{Antenna: antenna, Placement: placement}
		if deg >= 0 {
			s.Bearing = survey.BearingOf(deg)
		}
		return s
	}
	whip, loop40, loop130, study := setup("whip", "attic", -1), setup("loop", "attic", 40), setup("loop", "attic", 130), setup("loop", "study", 40)
	in := input.Input{Surveys: []survey.Survey{{ID: 1, First: loop130}}}
	for i, s := range []survey.Setup{whip, loop40, loop130, study} {
		in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Setup: s, Start: time.Unix(int64(i), 0)})
	}
	for _, test := range []struct {
		pattern string
		want    survey.Setup
		note    bool
		ok      bool
	}{
		{"", loop130, false, true},
		{"whip", whip, false, true},
		{"loop", loop40, true, true},
		{"loop@attic", loop40, true, true},
		{"loop@attic:130", loop130, false, true},
		{"loop@study", study, false, true},
		{"loop@cellar", whip, false, false},
		{"dipole", whip, false, false},
	} {
		got, note, err := input.Reference(in, test.pattern)
		switch {
		case test.ok && (err != nil || got != test.want || (note != "") != test.note):
			t.Errorf("%q: %v, note %q, %v", test.pattern, got, note, err)
		case !test.ok && (!errors.Is(err, input.ErrReference) || !strings.Contains(err.Error(), "loop@study:40")):
			t.Errorf("%q: %v does not name what there is", test.pattern, err)
		}
	}
	for _, bad := range []string{"@attic", "loop@", "loop@attic:", "loop@attic:360", "loop@attic:north", "loop@:40"} {
		if _, _, err := input.Reference(in, bad); err == nil || errors.Is(err, input.ErrReference) {
			t.Errorf("%q: %v, want a refusal of its form", bad, err)
		}
	}
	in.Surveys[0].First = setup("gone", "away", -1)
	if got, note, err := input.Reference(in, ""); got != whip || note == "" || err != nil {
		t.Errorf("default that was never used: %v, %q, %v", got, note, err)
	}
}

func TestPeriods(t *testing.T) {
	// JN58td, 3 November: sunset 15:53 UTC, sunrise 05:58 (cos H = −0.0145/cos φ cos δ
	// − tan φ tan δ with δ = −15.1°, noon 10:57: H = 73.6° = 4 h 54 min). The sun takes 31 to
	// 36 min from the horizon to −6°, 41 to +6°.
	w := reporttest.NewWorld(1)
	lat, lon, err := sun.ParseLocator(w.Input().Surveys[0].Site.Locator)
	if err != nil {
		t.Fatal(err)
	}
	for at, want := range map[string]string{
		"2026-11-03T12:00:00Z": result.PeriodDay, "2026-11-03T15:40:00Z": result.PeriodDusk, "2026-11-03T16:10:00Z": result.PeriodDusk,
		"2026-11-03T18:00:00Z": result.PeriodNight, "2026-11-04T03:00:00Z": result.PeriodNight, "2026-11-04T05:45:00Z": result.PeriodDawn,
		"2026-11-04T06:15:00Z": result.PeriodDawn, "2026-11-04T08:00:00Z": result.PeriodDay,
	} {
		instant, _ := time.Parse(time.RFC3339, at)
		if got := input.PeriodAt(instant, lat, lon); got != want {
			t.Errorf("%s: %s, want %s", at, got, want)
		}
	}
	// A survey from 12:00 to 06:00 and on has all four, each with its rounds.
	w.Start, w.Interval, w.Sweeps = time.Date(2026, 11, 3, 12, 0, 0, 0, time.UTC), 27*time.Minute, 1
	var periods []string
	rounds := 0
	for _, s := range mustRank(t, w.Input(), input.Options{}).Segments {
		periods = append(periods, s.Period)
		if s.Period != result.PeriodAll {
			rounds += reporttest.Find(t, s, w.Setup(0)).Rounds
		}
	}
	if !slices.Equal(periods, []string{"all", "day", "dusk", "night", "dawn"}) || rounds != w.Rounds {
		t.Errorf("periods %v with %d rounds, want all with %d", periods, rounds, w.Rounds)
	}
}

func TestSelect(t *testing.T) {
	w := reporttest.NewWorld(1)
	in := w.Input()
	half := w.Start.Add(12 * 2 * 3 * w.Interval) // 24 rounds of 2 setups, 3 sweeps each
	s := mustRank(t, in, input.Options{To: half}).Segments[0]
	if got := reporttest.Find(t, s, w.Setup(0)).Rounds; got != 12 {
		t.Errorf("%d rounds before half time, want 12", got)
	}
	if s, err := input.Select(in, input.Options{Segment: "49 m"}); !errors.Is(err, input.ErrNothing) || len(s.Sweeps) != 0 {
		t.Errorf("%d sweeps of a segment that is not there, %v", len(s.Sweeps), err)
	}
	if s, err := input.Select(in, input.Options{Survey: 2}); !errors.Is(err, input.ErrNothing) || len(s.Sweeps) != 0 {
		t.Errorf("%d sweeps of another survey, %v", len(s.Sweeps), err)
	}
}

// Missing powers are told from 2 % on: of 24 rounds, 4 carriers and 2 setups, 3 are 1.6 %,
// 5 are 2.6 %.
func TestMissingPowers(t *testing.T) {
	for missing, want := range map[int]bool{3: false, 5: true} {
		w := reporttest.Still()
		w.Gain, w.Floor = []float64{0, 5}, []float64{-98, -98}
		in := w.Input()
		for _, s := range in.Sweeps {
			if s.Setup == w.Setup(1) && s.Round <= missing {
				r := &s.Readings[0]
				r.Carriers = r.Carriers[1:]
			}
		}
		if s := mustRank(t, in, input.Options{}).Segments[0]; reporttest.HasDoubt(s, "powers are missing") != want {
			t.Errorf("%d of 192 missing: %q", missing, s.Doubts)
		}
	}
}

// Of one carrier nobody can tell the shift of a round from a stray: where the floors do not step, a
// round 40 dB off is a station that went off the air, of which a plain mean would follow by 8 dB.
func TestStrayOfOneCarrier(t *testing.T) {
	w := reporttest.Still()
	w.Rounds, w.Gain, w.Floor, w.Levels = 5, []float64{0, 5}, []float64{-98, -98}, []float64{60}
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(1) && s.Round == 3 {
			s.Readings[0].Carriers[0].Power *= stats.FromDecibel(-40)
		}
	}
	x := reporttest.Find(t, mustRank(t, in, input.Options{}).Segments[0], w.Setup(1))
	if lost := 5 - float64(*x.SNRAdvantage); lost < 0 || lost > 1 {
		t.Errorf("one of five rounds 40 dB lower: the advantage is %.2f dB lower, want 0 to 1", lost)
	}
}

// A carrier 7 standard errors over its own uncertainty in every cell has a dB, known to 0.6 dB: over
// 24 rounds of four carriers setups compare to 0.1 dB.
func TestCarriersOfSevenSigmas(t *testing.T) {
	w := reporttest.Still()
	level := stats.Decibel(7 / math.Sqrt(3)) // of one of three readings
	w.Common, w.Gain, w.Floor, w.Levels = 0, []float64{0, 1}, []float64{-98, -98}, []float64{level, level, level, level}
	x := reporttest.Find(t, mustRank(t, w.Input(), input.Options{}).Segments[0], w.Setup(1))
	if x.Carriers != 4 {
		t.Errorf("%d carriers compared, want 4", x.Carriers)
	}
	reporttest.Near(t, "advantage", x.SNRAdvantage, 1, 0.3)
}

func TestMoreRounds(t *testing.T) {
	for _, test := range []struct {
		lead, half float64
		want       int
		decides    bool
	}{{1, 2, 72, true}, {2, 1, 0, true}, {1, 2.7, 0, false}, {-1, 2, 0, false}, {0, 2, 0, false}} { // 24 rounds: 24·(2² − 1); decided; 7.3 times as many; no lead
		if got, decides := moreRounds(test.lead, test.half, 24); got != test.want || decides != test.decides {
			t.Errorf("lead %.1f ± %.1f dB: %d more rounds, %v, want %d, %v", test.lead, test.half, got, decides, test.want, test.decides)
		}
	}
}

// Of setups that are equal one is the best only where its lead's interval says so, and the verdict's setups are those
// that may be it. With the bound for one side alone one of two is the best in 10 % of nights.
func TestVerdictFollowsItsLead(t *testing.T) {
	skipShort(t)
	const n = 100
	best := 0
	for i := range uint64(n) {
		w := reporttest.NewWorld(900 + i)
		w.Gain, w.Floor, w.Sweeps = []float64{0, 0}, []float64{-98, -98}, 1
		s := mustRank(t, w.Input(), input.Options{}).Segments[0]
		may := 0
		for _, x := range s.Setups {
			if x.MayBeBest {
				may++
			}
		}
		v := s.Verdict
		if v.Kind == result.VerdictBest {
			best++
		}
		if may != len(v.Setups) || v.Kind == result.VerdictBest && (may != 1 || v.Low == nil || *v.Low <= 0) || v.Kind == result.VerdictTie && may < 2 {
			t.Errorf("night %d: %s of %d, %d may be the best, lead from %v", i, v.Kind, len(v.Setups), may, v.Low)
		}
	}
	if best > 12 { // 5 due, three counting errors of 2.2
		t.Errorf("one of two equals is the best in %d of %d nights, want about 5", best, n)
	}
}

// The headline weighs strata by all rounds, those between two states half to each: here 5 of 8 in the second stratum.
func TestWeightsOfStrata(t *testing.T) {
	fit := series.Of(series.Series{Values: []float64{1, 1, 1, 9, 9}, Times: []float64{0, 1, 2, 3, 4}, Stratum: []int{0, 0, 0, 1, 1}})
	if m := (look{}).of(&pairing{weights: []float64{3, 5}}, fit, nil); m.Mean != 6 {
		t.Errorf("mean %.2f dB, want (3·1 + 5·9)/8 = 6", m.Mean)
	}
}

// Recordings with a strong line at their centre may have a station there, which counts for no setup: it is said once.
func TestLineAtTheCentreOfRecordings(t *testing.T) {
	in := reporttest.NewWorld(3).Input()
	if s := mustRank(t, in, input.Options{}).Segments[0]; reporttest.HasDoubt(s, "at the centre") {
		t.Errorf("%q", s.Doubts)
	}
	in.Sweeps[0].Readings[0].Quality.Flags = []string{survey.FlagLineAtCentre}
	said := 0
	for _, d := range mustRank(t, in, input.Options{}).Segments[0].Doubts {
		if d.Kind == doubt.LineAtCentre {
			said++
		}
	}
	if said != 1 {
		t.Errorf("said %d times", said)
	}
}
