package strata

import (
	"slices"
	"testing"

	"nightfloor/reports/input"
)

// With six rounds, three of each state, that scatter by 1 dB, a difference of floors lies 6.6 dB from the mean by
// chance in 0.27 %: t of 4 degrees of freedom.
func TestNearest(t *testing.T) {
	around := func(mean float64) (m moments) {
		for _, x := range []float64{-1, 0, 1} {
			m.add(mean + x)
		}
		return m
	}
	for _, c := range []struct {
		apart, x float64
		want     state
	}{
		{20, 0, off}, {20, 6.5, off}, {20, -6.5, off}, {20, 6.8, unknown}, {20, -6.8, unknown},
		{20, 13.2, unknown}, {20, 13.5, on}, {20, 26.5, on}, {20, 26.8, unknown},
		{13.1, 0, unknown}, {13.4, 0, off}, {-13.4, -13.4, on},
	} {
		if got := nearest(around(0), around(c.apart), c.x); got != c.want {
			t.Errorf("%.1f dB of states %.1f dB apart: %d, want %d", c.x, c.apart, got, c.want)
		}
	}
}

// Of a source that comes for a round at a time no round through this pair is known to be with it: where
// it moves the difference into a group of its own, that group is. Where known rounds are in both
// groups, something else makes them, and nothing is told.
func TestJudgedByGroups(t *testing.T) {
	floor := zeros(12, map[int]float64{2: 12, 5: 12, 8: 12, 11: 12})
	source := Source{ID: 1, Off: []input.Span{hours(0, 1.7), hours(2.9, 4.6), hours(5.9, 7.7), hours(8.9, 10.7)}}
	judged := func(s Segment) Pair {
		c := Choose(s)
		c.Strata = []int{0} // as other pairs chose it
		return c.Pair(0, 1)
	}
	p := judged(plain(floor, zeros(12, nil), source))
	if want := []int{1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1, 0}; !slices.Equal(p.Stratum, want) || p.States[0].String() != "source 1 on" {
		t.Errorf("%v, states %q", p.Stratum, p.States)
	}
	floor[3] = 12
	if p := judged(plain(floor, zeros(12, nil), source)); len(p.Left) != 5 { // and the one alone in its group
		t.Errorf("%v, left out %v", p.Stratum, p.Left)
	}
}
