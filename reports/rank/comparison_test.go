package rank

import (
	"slices"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/reports/stations"
	"nightfloor/survey"
)

// Setups that hear nothing hold no series of their own: what the one that does says of the correlation of
// rounds counts once, as if it were alone with the reference.
func TestDeafSetupsTellNothingOfCorrelation(t *testing.T) {
	n := ranktest.Plain().Night(7)
	for _, s := range n.Input.Sweeps {
		for i := range s.Readings[0].Carriers {
			if c := &s.Readings[0].Carriers[i]; s.Setup != ranktest.Setup(0) && s.Setup != ranktest.Setup(1) {
				c.Power, c.Sigma, c.Detected = -c.Quiet, c.Quiet, false
			}
		}
	}
	in := reporttest.Selected(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
	m := matrix.New(in.Input, in.Ranked()[0])
	ref := slices.Index(m.Setups, in.Reference)
	states, _ := statesOf(m, ref, nil, nil)
	r := &ranking{matrix: m, ref: ref, finder: stations.New(m, stations.Known{}), states: states}
	c := &comparison{matrix: m, rounds: m.Periods(nil)[result.PeriodAll], ref: ref, states: r.states}
	r.compare(c)
	want := series.Pool([]*series.Fit{c.pairs[[2]int{slices.Index(m.Setups, ranktest.Setup(1)), ref}].fit}, 2)
	if !slices.Equal(c.weights, want) {
		t.Errorf("weights %.3f, want %.3f", c.weights, want)
	}
}

// Of all pairs of four setups three tell all; of two pairs without a setup in common each tells its own.
func TestIndependentPairs(t *testing.T) {
	for _, test := range []struct {
		pairs [][2]int
		want  int
	}{{nil, 0}, {[][2]int{{1, 2}, {1, 3}, {1, 0}, {2, 3}, {2, 0}, {3, 0}}, 3}, {[][2]int{{1, 2}, {3, 0}}, 2}} {
		if got := independent(test.pairs); got != test.want {
			t.Errorf("%v: %d, want %d", test.pairs, got, test.want)
		}
	}
}

// Carriers whose powers are missing through a setup are not said to be under the noise through it.
func TestMissingIsNotUnderTheNoise(t *testing.T) {
	n := ranktest.Plain().Night(5)
	for _, s := range n.Input.Sweeps {
		if s.Setup == ranktest.Setup(2) {
			s.Readings[0].Carriers = s.Readings[0].Carriers[:3]
		}
	}
	s := mustRank(t, n.Input, input.Options{Reference: ranktest.Setup(0).Antenna}).Segments[0]
	if reporttest.HasDoubt(s, "under the noise") || !reporttest.HasDoubt(s, "powers are missing") {
		t.Errorf("%q", s.Doubts)
	}
}

// One beacon that the plan lists is an estimate, and no verdict, as one carrier is; five are one.
func TestFewListed(t *testing.T) {
	n := ranktest.Plain().Night(5)
	in := reporttest.Selected(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
	m := matrix.New(in.Input, in.Ranked()[0])
	ref := slices.Index(m.Setups, in.Reference)
	for listed, few := range map[int]bool{1: true, 2: true, 5: false} {
		states, _ := statesOf(m, ref, nil, nil)
		r := &ranking{matrix: m, ref: ref, finder: stations.New(m, stations.Known{}), states: states}
		for c := range listed {
			r.listed = append(r.listed, survey.Hz(9.42e6+5e3*float64(c)))
		}
		s := r.over(result.PeriodAll, m.Periods(nil)[result.PeriodAll])[0]
		if s.Of != result.OfListed || (s.Verdict.Kind == result.VerdictFewCarriers) != few || s.Verdict.Lead == nil {
			t.Errorf("%d listed: %s by %s", listed, s.Verdict.Kind, s.Of)
		}
	}
}
