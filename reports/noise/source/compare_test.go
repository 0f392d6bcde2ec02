package source

import (
	"slices"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/presence"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A comb that comes on between the sixth and the seventh of twelve rounds brings a level that comes
// on with it, to a round, and none that comes on three rounds later, before, or is there always.
// Of two rounds on one side nothing is told, nor of a level that scatters by as much as it is strong:
// the change must be 3 standard errors. That of medians of four values that go up and down by d is
// d/0.6745/√2·1.2533·√(2/4) = 0.93·d.
func TestModulationAtASwitching(t *testing.T) {
	comb := &Source{Presence: presence.Presence{On: make([]bool, 12), Share: make([]float64, 12)}}
	var own []int
	for n := range 12 {
		own = append(own, n)
		if n >= 6 {
			comb.On[n], comb.Share[n] = true, 1
		}
	}
	scattered := func(round int, scatter float64) []float64 {
		level := make([]float64, 12)
		for n := range level {
			if level[n] = scatter * float64(n%2); n >= round {
				level[n]++
			}
		}
		return level
	}
	from := func(round int) []float64 { return scattered(round, 0.01) }
	for _, test := range []struct {
		name       string
		level      []float64
		own        []int
		told, with bool
	}{
		{"with it", from(6), own, true, true}, {"a round later", from(7), own, true, true}, {"three rounds later", from(9), own, true, false},
		{"three rounds before", from(3), own, true, false}, {"always", from(0), own, true, false}, {"two rounds", from(6), own[:8], false, false},
		{"3.6 standard errors", scattered(6, 0.3), own, true, true}, {"2.4 standard errors", scattered(6, 0.45), own, false, false},
		{"scatters", []float64{1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0}, own, false, false},
	} {
		told, with := switching{test.own, 6}.judge(test.level, comb, make([]string, 12), "")
		if told != test.told || with != test.with {
			t.Errorf("%s: told %t, with it %t, want %t and %t", test.name, told, with, test.told, test.with)
		}
	}
}

// Of 3 and 7 against 1 and 7: 3 is greater than 1, 7 is too and ties with 7. Of the 5·4 pairs of two
// rows either value is greater, or they tie.
func TestPairsOver(t *testing.T) {
	if got := pairsOver([]float64{3, 7}, []float64{1, 7}); got != 1+1.5 {
		t.Errorf("%v, want 2.5", got)
	}
	x, y := []float64{1, 2, 2, 5, 9}, []float64{2, 3, 5, 5}
	if got := pairsOver(x, y) + pairsOver(y, x); got != 20 {
		t.Errorf("%v in all, want 20", got)
	}
}

// Modulation whose amplitude is 2 dB stronger with a comb, in six rounds of six minutes on and six
// off, again and again, goes with it; at 1.6 dB it does not: the bound is 1.8 dB.
func TestWeakModulationOfAnother(t *testing.T) {
	l := sixMinuteRounds(48)
	for _, test := range []struct {
		rise float64
		with bool
	}{{2, true}, {1.6, false}} {
		comb := &Source{Presence: presence.Presence{On: make([]bool, 48), Share: make([]float64, 48), Listened: slices.Repeat([]bool{true}, 48)}}
		level := make([]float64, 48)
		for n := range level {
			level[n] = 1 + 0.01*float64(n%2)
			if n/6%2 == 1 {
				comb.On[n], comb.Share[n] = true, 1
				level[n] *= stats.FromDecibel(2 * test.rise) // squares
			}
		}
		rise, switchings, against := goesWith(l, [][]float64{level}, []*Source{comb}, 0)
		if (switchings == 7) != test.with || against == test.with {
			t.Errorf("%.1f dB: rise %.2f dB, %d switchings, against %t", test.rise, rise, switchings, against)
		}
	}
}

func sixMinuteRounds(rounds int) *readlog.Log {
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord}}}
	for n := range rounds {
		at := time.Date(2026, 11, 3, 15, 6*n, 0, 0, time.UTC)
		in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Start: at, Readings: []survey.Reading{{Start: at, Duration: time.Second}}})
	}
	return readlog.New(in)
}

// The levels of n rounds that are all over those of m others make a rank sum √(3nm/(n+m+1)) standard
// errors over chance: 2.88 of six and six, 3.24 of seven and eight. It takes three.
func TestFewRoundsCompared(t *testing.T) {
	for _, test := range []struct {
		off, on int
		with    bool
	}{{3, 6, false}, {4, 7, true}} {
		rounds := 2*test.off + test.on
		comb := &Source{Presence: presence.Presence{On: make([]bool, rounds), Share: make([]float64, rounds), Listened: slices.Repeat([]bool{true}, rounds)}}
		level := make([]float64, rounds)
		for n := range level {
			if level[n] = 1 + 0.01*float64(n%2); n >= test.off && n < test.off+test.on {
				comb.On[n], comb.Share[n] = true, 1
				level[n] *= 4
			}
		}
		_, switchings, against := goesWith(sixMinuteRounds(rounds), [][]float64{level}, []*Source{comb}, 0)
		if (switchings == 2) != test.with || against == test.with {
			t.Errorf("%d rounds on, %d off: %d switchings, against %t", test.on, 2*test.off, switchings, against)
		}
	}
}

// Six rounds on either side of a switching, between rounds 19 and 20, are beside it: 14 to 25.
func TestRoundsBesideASwitching(t *testing.T) {
	l := &readlog.Log{Rounds: make([]readlog.Round, 40)}
	var rounds []int
	for n := range l.Rounds {
		rounds = append(rounds, n)
	}
	for n, beside := range besideSwitching(l, []switching{{rounds, 20}}) {
		if beside != (n >= 14 && n <= 25) {
			t.Errorf("round %d: beside %t", n, beside)
		}
	}
}
