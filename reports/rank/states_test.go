package rank

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/strata"
	"nightfloor/survey"
)

// A state of a known source has a figure for every setup, also for one whose floor something else
// raises besides, which no other setup shows.
func TestStatesOfEverySetup(t *testing.T) {
	w := ranktest.Plain()
	w.Device = ranktest.Device{Raises: []float64{0, 12, 0, 0}, Share: 0.5, Lasts: 8, Known: true}
	n := w.Night(3)
	for _, s := range n.Input.Sweeps {
		if s.Setup == ranktest.Setup(2) && s.Round%2 == 0 {
			for i := range s.Readings {
				s.Readings[i].Floor.Density += 18
			}
		}
	}
	in, err := input.Select(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for _, s := range Of(in, House{States: statesKnown(n)}, 1).Segments {
		if s.State == nil || !strings.HasPrefix(*s.State, "source 1 o") || strings.Contains(*s.State, ";") {
			continue
		}
		told++
		for k := 1; k < w.Setups; k++ {
			if x := reporttest.Find(t, s, ranktest.Setup(k)); x.SNRAdvantage == nil || x.Rounds < 4 {
				t.Errorf("%s: setup %d: %+v", *s.State, k, x)
			}
		}
	}
	if told != 2 {
		t.Errorf("%d states, want source 1 on and off", told)
	}
}

// Six rounds with a source on are an entry where most setups share them with the reference. Where two of three
// were measured in five of them it would hold one interval, and that setup would seem to be the best.
func TestStateOfTooFewRounds(t *testing.T) {
	n := ranktest.Plain().Night(3)
	for _, s := range n.Input.Sweeps {
		for i := range s.Readings {
			if s.Setup == ranktest.Setup(1) && s.Round <= 6 {
				s.Readings[i].Floor.Density += 12
			}
		}
	}
	start := n.Input.Surveys[0].Start
	six := start.Add(6 * ranktest.Round)
	house := House{States: []strata.Source{{ID: 1, On: []input.Span{{First: start, Last: six.Add(-time.Second)}}, Off: []input.Span{{First: six, Last: six.Add(24 * time.Hour)}}}}}
	states := func() (names []string) {
		in, err := input.Select(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range Of(in, house, 1).Segments {
			if s.State != nil {
				names = append(names, *s.State)
			}
		}
		return names
	}
	if got, want := states(), []string{"source 1 on", "source 1 off"}; !slices.Equal(got, want) {
		t.Errorf("states %q, want %q", got, want)
	}
	n.Input.Sweeps = slices.DeleteFunc(n.Input.Sweeps, func(s *survey.Sweep) bool {
		return s.Round == 3 && (s.Setup == ranktest.Setup(2) || s.Setup == ranktest.Setup(3))
	})
	if got, want := states(), []string{"source 1 off"}; !slices.Equal(got, want) {
		t.Errorf("states %q, want %q", got, want)
	}
}

// A device that nobody knows raises the floor of one setup of four in each second pair of rounds, and only that
// one shows it. In both states every setup has its place, the others the one that they have over all; no state
// is told where setups show it at different times.
func TestStatesOfOneSetup(t *testing.T) {
	raise := func(rounds int, raised map[int]int) (states []result.RankSegment) {
		n := ranktest.Plain().Night(3)
		for _, s := range n.Input.Sweeps {
			for k, from := range raised {
				if s.Setup == ranktest.Setup(k) && (s.Round+from)%4 < rounds {
					s.Readings[0].Floor.Density += 12
				}
			}
		}
		in := reporttest.Selected(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
		return Of(in, House{}, 1).Segments
	}
	all := raise(2, map[int]int{1: 0})
	if len(all) != 3 {
		t.Fatalf("%d entries, want 3", len(all))
	}
	for _, s := range all[1:] {
		for k := 2; k < 4; k++ {
			x, over := reporttest.Find(t, s, ranktest.Setup(k)), reporttest.Find(t, all[0], ranktest.Setup(k))
			if x.Rounds != 12 || x.SNRAdvantage == nil || *x.SNRAdvantage != *over.SNRAdvantage {
				t.Errorf("%s: setup %d in %d rounds %v dB, want 12 and %v, as over all", *s.State, k, x.Rounds, x.SNRAdvantage, *over.SNRAdvantage)
			}
		}
	}
	if on, off := reporttest.Find(t, all[2], ranktest.Setup(1)), reporttest.Find(t, all[1], ranktest.Setup(1)); math.Abs(float64(*off.SNRAdvantage-*on.SNRAdvantage)-12) > 2 {
		t.Errorf("%.1f and %.1f dB, want 12 apart", *on.SNRAdvantage, *off.SNRAdvantage)
	}
	if all := raise(1, map[int]int{1: 0, 2: 2}); len(all) != 1 {
		t.Errorf("%d entries where two setups are raised at different times, want 1", len(all))
	}
}

// Recordings that do not tell their gain, which stood still, show the same states as those that do: a device
// that raises the floor of the reference by 12 dB in half of the rounds leaves intervals as they are.
func TestStatesWithoutGains(t *testing.T) {
	w := ranktest.Plain()
	w.Device = ranktest.Device{Raises: []float64{12, 0, 0, 0}, Share: 0.5, Lasts: 8, Known: true}
	ranked := func(known, hours bool) []result.RankSegment {
		n := w.Night(3)
		for _, s := range n.Input.Sweeps {
			for i := range s.Readings {
				if !known {
					s.Readings[i].Gain = survey.Gain{}
				}
			}
		}
		house := House{}
		if hours {
			house.States = statesKnown(n)
		}
		return Of(reporttest.Selected(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna}), house, 1).Segments
	}
	for _, hours := range []bool{true, false} {
		known, not := ranked(true, hours), ranked(false, hours)
		if len(known) != 3 || len(not) != 3 {
			t.Fatalf("%d entries with gains, %d without, want 3", len(known), len(not))
		}
		for i, s := range not {
			for k := 1; k < w.Setups; k++ {
				want, got := reporttest.Find(t, known[i], ranktest.Setup(k)), reporttest.Find(t, s, ranktest.Setup(k))
				if *got.SNRAdvantage != *want.SNRAdvantage || *got.Low != *want.Low || *got.High != *want.High {
					t.Errorf("setup %d: %.2f dB, %.2f … %.2f; with gains %.2f dB, %.2f … %.2f", k,
						*got.SNRAdvantage, *got.Low, *got.High, *want.SNRAdvantage, *want.Low, *want.High)
				}
			}
		}
	}
}
