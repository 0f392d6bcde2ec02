package rank

import (
	"math"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/series"
	"nightfloor/survey"
)

// Rounds every four hours over two days, from 6 o'clock by the sun. 75° further east the sun is 5 h ahead.
func TestNightsOf(t *testing.T) {
	var in input.Input
	for id, start := range map[int64]time.Time{1: time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC), 2: time.Date(2026, 3, 1, 1, 0, 0, 0, time.UTC)} {
		in.Surveys = append(in.Surveys, survey.Survey{ID: id, Start: start})
		for n := range 12 {
			floor := survey.Floor{Density: -100}
			at := start.Add(time.Duration(n) * 4 * time.Hour)
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: id, Round: n, Visit: n, Setup: ranktest.Setup(0), Start: at,
				Readings: []survey.Reading{{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Start: at, Duration: time.Second, Floor: &floor}}})
		}
	}
	in = reporttest.Selected(in, input.Options{}).Input
	m := matrix.New(in, survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6})
	places := map[int64]input.SunAt{1: {Lat: 50, Lon: 0}, 2: {Lat: 50, Lon: 75}}
	for period, want := range map[string][]int{
		result.PeriodAll: {0, 0, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2}, // 6, 10, 14, 18, 22, 2, 6, 10, 14, … o'clock
		result.PeriodDay: {0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 2},
	} {
		for _, id := range []int64{1, 2} {
			var rounds []int
			for n, key := range m.Rounds {
				if key.Survey == id {
					rounds = append(rounds, n)
				}
			}
			got := nightsOf(m, period, rounds, places)
			for i := range want {
				if got[i]-got[0] != want[i] {
					t.Errorf("%s, survey %d: %v, want %v", period, id, got, want)
					break
				}
			}
		}
	}
}

// Three nights are the unit; with one of them a piece, of 9 rounds where the median night has 20, there are
// two, which tell nothing. It is the pair's own rounds that count.
func TestNightsOfAPair(t *testing.T) {
	p := &pairing{}
	c := &comparison{}
	for night, rounds := range []int{20, 20, 20} {
		for range rounds {
			c.night = append(c.night, night)
			p.values = series.Series{Values: append(p.values.Values, float64(night)), Stratum: append(p.values.Stratum, 0)}
		}
	}
	leave := func(rounds int) {
		p.values.Values = slices.Clone(p.values.Values)
		for i := 40 + rounds; i < 60; i++ {
			p.values.Values[i] = math.NaN()
		}
	}
	for _, test := range []struct{ rounds, nights int }{{20, 3}, {10, 3}, {9, 0}} {
		leave(test.rounds)
		n := 0
		if got := c.nights(look{}, p); got != nil {
			n = got.Count
		}
		if n != test.nights {
			t.Errorf("%d rounds in the last night: %d nights, want %d", test.rounds, n, test.nights)
		}
	}
}
