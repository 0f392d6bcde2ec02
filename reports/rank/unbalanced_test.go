package rank

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/verdict"
	"nightfloor/survey"
)

// keepRounds gives the input without the sweeps of one setup in the rounds that
// keep refuses.
func keepRounds(in input.Input, setup survey.Setup, keep func(round int) bool) input.Input {
	var kept []*survey.Sweep
	for _, s := range in.Sweeps {
		if s.Setup != setup || keep(s.Round) {
			kept = append(kept, s)
		}
	}
	in.Sweeps = kept
	return in
}

// overAll gives the segments over the whole time.
func overAll(r result.Rank) (all []result.RankSegment) {
	for _, s := range r.Segments {
		if s.Period == result.PeriodAll {
			all = append(all, s)
		}
	}
	return all
}

// A setup that came first in one round only hides nothing: the others are told
// apart against the best that has an interval.
func TestOneRoundIsNoMeasure(t *testing.T) {
	w := reporttest.Still()
	w.Gain, w.Floor = []float64{0, 5, -2, 18}, []float64{-98, -98, -98, -98}
	in := keepRounds(w.Input(), w.Setup(3), func(round int) bool { return round == 7 })
	s := mustRank(t, in, input.Options{}).Segments[0]
	if first := s.Setups[0]; first.Setup != w.Setup(3) || first.Low != nil || first.BestShare != nil || !first.MayBeBest {
		t.Errorf("first place: %+v", first)
	}
	b, c := reporttest.Find(t, s, w.Setup(1)), reporttest.Find(t, s, w.Setup(2))
	if !b.MayBeBest || *b.BestShare != 1 || c.MayBeBest || *c.BestShare != 0 {
		t.Errorf("second: may be best %v, share %v; third: %v, %v", b.MayBeBest, *b.BestShare, c.MayBeBest, *c.BestShare)
	}
}

// Three shared rounds are too few to tell, and are not called "no difference".
func TestTooFewRoundsIsNotNoDifference(t *testing.T) {
	w := reporttest.Still()
	w.Gain, w.Floor = []float64{0, 10}, []float64{-98, -98}
	in := keepRounds(w.Input(), w.Setup(1), func(round int) bool { return round <= 3 })
	s := mustRank(t, in, input.Options{}).Segments[0]
	if told := verdict.Sentence(&s); !strings.HasPrefix(told, "Too few rounds") {
		t.Errorf("%q", told)
	}
}

// Setups that missed rounds are named up to three of them; of more it is said how many.
func TestSomeRounds(t *testing.T) {
	w := reporttest.Still()
	w.Gain, w.Floor = []float64{0, 1, 2, 3, 4}, []float64{-98, -98, -98, -98, -98}
	in := w.Input()
	for k := 1; k <= 4; k++ {
		in = keepRounds(in, w.Setup(k), func(round int) bool { return round > k })
		said := "4 setups in 20 to 23 of 24 rounds together with the reference"
		if k == 1 {
			said = "in 23 of 24 rounds together with the reference"
		} else if k < 4 {
			said = fmt.Sprintf("in %d to 23 of 24 rounds together with the reference", 24-k)
		}
		doubts := mustRank(t, in, input.Options{}).Segments[0].Doubts
		i := slices.IndexFunc(doubts, func(d doubt.Doubt) bool { return strings.Contains(d.String(), said) })
		if i < 0 || k < 4 && len(doubts[i].About) != k || k == 4 && doubts[i].About != nil {
			t.Errorf("%d setups: %q, want %q", k, doubts, said)
		}
	}
}

// Recordings at centres 100 Hz apart are cut 100 Hz apart; they are ranked where
// both cuts overlap, and the doubts say so. Carriers outside of it do not count.
func TestCutsOfOneSegment(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(1) {
			s.Readings[0].Segment.Low += 25e3 // the carrier at 9420 kHz is below it
		}
	}
	all := overAll(mustRank(t, in, input.Options{}))
	if len(all) != 1 {
		t.Fatalf("%d segments, want 1", len(all))
	}
	s := all[0]
	if s.Low != 9.425e6 || s.High != 9.9e6 || !reporttest.HasDoubt(s, "cut differently") {
		t.Errorf("%v–%v, %q", s.Low, s.High, s.Doubts)
	}
	x := reporttest.Find(t, s, w.Setup(1))
	if x.Carriers != 3 {
		t.Errorf("%d carriers, want the 3 in the overlap", x.Carriers)
	}
	reporttest.Near(t, "advantage", x.SNRAdvantage, w.Gain[1], 0.05)
}

// Cuts that hardly overlap are segments of their own.
func TestCutsApart(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Setup == w.Setup(1) {
			s.Readings[0].Segment.Low += 400e3
		}
	}
	if all := overAll(mustRank(t, in, input.Options{})); len(all) != 2 {
		t.Errorf("%d segments, want 2", len(all))
	}
}

// A segment whose readings all lack a floor has an empty list, not null.
func TestNoFloorAnywhere(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		s.Readings[0].Floor = nil
	}
	var shown bytes.Buffer
	if err := result.WriteJSON(&shown, mustRank(t, in, input.Options{})); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(shown.String(), `"setups": null`) {
		t.Error(shown.String())
	}
}

// A round that lasts a week compares nothing, and is named.
func TestLongRound(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	for _, s := range in.Sweeps {
		if s.Round == 24 && s.Setup == w.Setup(0) {
			s.Start = s.Start.Add(7 * 24 * time.Hour)
			s.Readings[0].Start = s.Start
		}
	}
	s := mustRank(t, in, input.Options{}).Segments[0]
	if !reporttest.HasDoubt(s, "round 24 lasts 168 h") || reporttest.HasDoubt(s, "rounds last up to") {
		t.Errorf("%q", s.Doubts)
	}
}

// Rounds over which conditions change are doubted, by the readings that are used.
func TestRoundsThatLast(t *testing.T) {
	for _, test := range []struct {
		interval time.Duration
		want     string // "": no doubt
	}{
		// Three setups, three sweeps each: a round spans 8 intervals and half a second.
		{7 * time.Minute, ""},
		{8 * time.Minute, "rounds last up to 1 h 4 min: fading does not cancel within them"},
		{3 * time.Hour, "rounds last up to 24 h: fading does not cancel within them"},
	} {
		w := reporttest.Still()
		w.Interval = test.interval
		s := overAll(mustRank(t, w.Input(), input.Options{}))[0]
		if reporttest.HasDoubt(s, "fading does not cancel") != (test.want != "") || !reporttest.HasDoubt(s, test.want) && test.want != "" {
			t.Errorf("%v: %q, want %q", test.interval, s.Doubts, test.want)
		}
	}
	// What was left out makes no round long: an overloaded reading 50 min before it.
	w := reporttest.Still()
	w.Interval = 6 * time.Minute
	in := w.Input()
	early := *in.Sweeps[0]
	early.Start = early.Start.Add(-50 * time.Minute)
	early.Readings = []survey.Reading{early.Readings[0]}
	early.Readings[0].Start = early.Start
	for _, overloaded := range []bool{false, true} {
		if overloaded {
			early.Readings[0].Quality.Flags = []string{survey.FlagOverload}
		}
		with := in
		with.Sweeps = append(slices.Clone(in.Sweeps), &early)
		if s := overAll(mustRank(t, with, input.Options{}))[0]; reporttest.HasDoubt(s, "fading does not cancel") == overloaded {
			t.Errorf("overloaded %v: %q", overloaded, s.Doubts)
		}
	}
}

// One setup alone is better than nothing, which is no finding.
func TestSetupAlone(t *testing.T) {
	w := reporttest.Still()
	w.Gain, w.Floor = []float64{0}, []float64{-98}
	rank := mustRank(t, w.Input(), input.Options{})
	s := overAll(rank)[0]
	if len(s.Setups) != 1 || !s.Setups[0].MayBeBest || s.Setups[0].BestShare != nil {
		t.Errorf("%+v", s.Setups)
	}
	const want = "Only antenna A@attic was measured: nothing to compare it with."
	if got := verdict.Sentence(&s); got != want {
		t.Errorf("%q", got)
	}
	var shown bytes.Buffer
	if err := text.WriteTable(&shown, rank, reporttest.Zone, text.Width); err != nil || !strings.Contains(shown.String(), want) || strings.Contains(shown.String(), "* 1") {
		t.Errorf("%v: %s", err, shown.String())
	}
}
