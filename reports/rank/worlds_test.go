package rank

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/strata"
	"nightfloor/survey"
)

// A simulated world, by the row of the table that it makes.
type simulated struct {
	name  string
	quick bool // also a few nights of it, when none are asked for
	slow  bool // drifts so slowly that the ranking is to say so
	ranktest.World
}

func simulatedWorlds() []simulated {
	like := ranktest.Like
	all := []simulated{
		{name: "plain", quick: true, World: ranktest.Plain()},
		{name: "no drift", World: like(func(w *ranktest.World) { w.Drift = 0 })},
		{name: "correlated fading", World: like(func(w *ranktest.World) { w.Lag = 0.6 })},
		{name: "slow drift", slow: true, World: like(func(w *ranktest.World) { w.Drift, w.DriftLag = 2, 0.85 })},
		{name: "8 rounds", World: like(func(w *ranktest.World) { w.Rounds = 8 })},
		{name: "12 rounds", World: like(func(w *ranktest.World) { w.Rounds = 12 })},
		{name: "60 rounds", World: like(func(w *ranktest.World) { w.Rounds = 60 })},
		{name: "weak 30 %", quick: true, World: like(func(w *ranktest.World) { w.Weak, w.DeafAt = 0.3, 1 })},
		{name: "weak 60 %", World: like(func(w *ranktest.World) { w.Weak, w.DeafAt = 0.6, 1 })},
		{name: "deaf reference", World: like(func(w *ranktest.World) { w.Weak, w.DeafAt = 0.5, 0 })},
		{name: "uneven", World: like(func(w *ranktest.World) { w.Uneven = true })},
		{name: "interrupted", World: like(func(w *ranktest.World) { w.GapAfter = 14 })},
		{name: "seven ties", World: like(func(w *ranktest.World) { w.Setups, w.Gains = 7, 0 })},
		{name: "two carriers", World: like(func(w *ranktest.World) { w.Carriers = 2 })},
		{name: "sixty carriers", World: like(func(w *ranktest.World) { w.Carriers = 60 })},
		{name: "Rayleigh fades", World: like(func(w *ranktest.World) { w.Fades = 3 })},
	}
	for _, dB := range []float64{12, 18, 25} {
		for _, share := range []float64{0.15, 0.3, 0.6} {
			for _, d := range []struct {
				of     string
				raises []float64
			}{{"one", []float64{0, dB, 0, 0}}, {"all", []float64{dB, dB, dB, dB}}} {
				for _, known := range []bool{true, false} {
					name := fmt.Sprintf("%s %.0f dB %.0f %%", d.of, dB, 100*share)
					if !known {
						name += ", not known"
					}
					device := ranktest.Device{Raises: d.raises, Share: share, Lasts: 4, Known: known}
					all = append(all, simulated{name: name, quick: dB == 25 && share == 0.3 && d.of == "one", World: like(func(w *ranktest.World) { w.Device = device })})
				}
			}
		}
	}
	return all
}

// TestWorlds ranks simulated nights and compares what it says with what they are made of. Without
// -nights it takes a few of some worlds:
//
//	go test ./reports/rank -run TestWorlds -nights 500 -v -timeout 2h
//
// prints the table of STATISTICS.md 3.10.
func TestWorlds(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: statistics of one goroutine a night")
	}
	nights, seed := ranktest.Nights(), reporttest.SeedFor(t)
	t.Logf("| %-24s | held (worst setup) | bias of the worst setup | half width / need | wrong claims | best kept | few-rounds | misled |", "world")
	for _, w := range simulatedWorlds() {
		n := nights
		if n == 0 {
			n = 16
		}
		if !w.quick && nights == 0 {
			continue
		}
		var row string
		t.Run(w.name, func(t *testing.T) {
			sum := sumUp(ranktest.Each(w.World, seed, n, judge))
			row = sum.row()
			for _, fault := range sum.faults(w.slow) {
				t.Error(fault)
			}
		})
		if row != "" { // else it was not asked for
			t.Logf("| %-24s %s", w.name, row)
		}
	}
}

// A judgement is what the ranking said of a night, by setup, and what is true. The reference is
// setup 0.
type judgement struct {
	truth, need, advantage []float64
	low, high              []float64 // NaN: no interval
	mayBeBest              []bool
	fewRounds              bool
}

// judge ranks a night.
func judge(n *ranktest.Night) (j judgement) {
	s := rankNight(n)
	j.fewRounds = s.Verdict != nil && s.Verdict.Kind == result.VerdictFewRounds
	for k := range n.Setups {
		for _, x := range s.Setups {
			if x.Setup == ranktest.Setup(k) {
				j.advantage, j.low, j.high = append(j.advantage, orNaN(x.SNRAdvantage)), append(j.low, orNaN(x.Low)), append(j.high, orNaN(x.High))
				j.mayBeBest = append(j.mayBeBest, x.MayBeBest)
			}
		}
		j.truth, j.need = append(j.truth, n.Truth(k)), append(j.need, n.Need(k))
	}
	return j
}

// rankNight gives the ranking of a night over all of its rounds and states.
func rankNight(n *ranktest.Night) result.RankSegment {
	s, err := input.Select(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
	if err != nil {
		panic(err)
	}
	return Of(s, House{States: statesKnown(n)}, 1).Segments[0]
}

// statesKnown gives the hours of the night's device, where they are known.
func statesKnown(n *ranktest.Night) []strata.Source {
	if !n.World.Device.Known {
		return nil
	}
	return []strata.Source{{ID: 1, On: n.On, Off: n.Off}}
}

func orNaN(x *survey.DB) float64 {
	if x == nil {
		return math.NaN()
	}
	return float64(*x)
}

// A share counts.
type share struct{ times, of float64 }

func (s *share) add(yes bool) {
	s.of++
	if yes {
		s.times++
	}
}

func (s share) value() float64 { return s.times / max(1, s.of) }

// error gives the counting error of a share that should be about so much.
func (s share) error(about float64) float64 { return math.Sqrt(about * (1 - about) / max(1, s.of)) }

// tied is within how many dB truths are one.
const tied = 1e-9

// A summary is what the judgements of some nights come to.
type summary struct {
	nights     float64
	held       []share     // by setup after the reference: the interval holds the truth, of those given
	misled     share       // intervals given that do not, of all
	wrong      share       // intervals given that lie on the wrong side of 0, of all
	kept       share       // the true best may be the best; of ties, any
	few        share       // nights with too few rounds
	off        [][]float64 // by setup after the reference: errors, dB
	half, need float64
}

func sumUp(all []judgement) *summary {
	setups := len(all[0].truth)
	s := &summary{nights: float64(len(all)), held: make([]share, setups-1), off: make([][]float64, setups-1)}
	for _, j := range all {
		s.few.add(j.fewRounds)
		for k := 1; k < setups; k++ {
			if !math.IsNaN(j.advantage[k]) {
				s.off[k-1] = append(s.off[k-1], j.advantage[k]-j.truth[k])
			}
			given := !math.IsNaN(j.low[k])
			holds := given && j.low[k] <= j.truth[k] && j.truth[k] <= j.high[k]
			s.misled.add(given && !holds)
			s.wrong.add(j.low[k] > 0 && j.truth[k] < -tied || j.high[k] < 0 && j.truth[k] > tied)
			if !given {
				continue
			}
			s.held[k-1].add(holds)
			s.half, s.need = s.half+(j.high[k]-j.low[k])/2, s.need+j.need[k]
		}
		s.addBest(j)
	}
	return s
}

// addBest tells whether the true best, or each of several, was kept.
func (s *summary) addBest(j judgement) {
	best := slices.Max(j.truth)
	for k, truth := range j.truth {
		if truth > best-tied {
			s.kept.add(j.mayBeBest[k])
		}
	}
}

// worst gives the coverage of the setup whose intervals hold the truth least often, and the largest
// bias with its standard error.
func (s *summary) worst() (held, bias, sigma float64) {
	held = 1
	for k := range s.held {
		held = min(held, s.held[k].value())
		mean, variance := stats.MeanVariance(s.off[k])
		if math.Abs(mean) >= math.Abs(bias) {
			bias, sigma = mean, math.Sqrt(variance/float64(len(s.off[k])))
		}
	}
	return held, bias, sigma
}

// allHeld gives the coverage of all intervals.
func (s *summary) allHeld() (all share) {
	for _, h := range s.held {
		all.times, all.of = all.times+h.times, all.of+h.of
	}
	return all
}

// row gives a row of the table.
func (s *summary) row() string {
	held, bias, sigma := s.worst()
	return fmt.Sprintf("| %.3f (%.3f) | %+.3f ± %.3f | %.2f / %.2f = %.2f | %.2f %% | %.3f | %.3f | %.3f |",
		s.allHeld().value(), held, bias, sigma, s.half/s.allHeld().of, s.need/s.allHeld().of, s.half/s.need, 100*s.wrong.value(), s.kept.value(), s.few.value(), s.misled.value())
}

// faults tells what is not as promised: intervals hold the truth in 92 to 98 % through each setup,
// no bias is over 0.1 dB, 2.5 % of claims at most are on the wrong side of 0, the true best is kept in 95 %, and
// intervals are at most 1.3 times as wide as need be. Too few rounds are said of 10 % of the nights
// at most, but in worlds that drift so slowly that it is right: there 8 % at most are given
// intervals that do not hold the truth. A share may be off by one counting error, a bias by one standard
// error, of 500 nights; by three of fewer.
func (s *summary) faults(slow bool) (all []string) {
	errors := 1.0
	if s.nights < 500 {
		errors = 3
	}
	fault := func(wrong bool, format string, figures ...any) {
		if wrong {
			all = append(all, fmt.Sprintf(format, figures...))
		}
	}
	for k, h := range s.held {
		if slow {
			break
		}
		fault(h.value() < 0.92-errors*h.error(0.92) || h.value() > 0.98+errors*h.error(0.98), "setup %d: interval holds the truth in %.3f, want 0.92 to 0.98", k+1, h.value())
	}
	for k, off := range s.off {
		bias, variance := stats.MeanVariance(off)
		fault(math.Abs(bias) > 0.1+errors*math.Sqrt(variance/float64(len(off))), "setup %d: bias %.3f dB, want 0.1 at most", k+1, bias)
	}
	most := func(what string, got share, limit float64) {
		fault(got.value() > limit+errors*got.error(limit), "%s: %.3f, want %.3f at most", what, got.value(), limit)
	}
	most("wrong claims", s.wrong, 0.025)
	most("the true best left out", share{s.kept.of - s.kept.times, s.kept.of}, 0.05)
	fault(s.half > 1.3*s.need, "intervals %.2f times as wide as need be, want 1.3 at most", s.half/s.need)
	if slow {
		most("nights misled", s.misled, 0.08)
	} else {
		most("too few rounds", s.few, 0.1)
	}
	return all
}

// No entry, of states neither, has an interval from under six rounds.
func TestIntervalsRestOnSixRounds(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: long arithmetic of one goroutine")
	}
	w := ranktest.Like(func(w *ranktest.World) {
		w.Device, w.Uneven = ranktest.Device{Raises: []float64{0, 18, 0, 0}, Share: 0.3, Lasts: 4}, true
	})
	for _, few := range ranktest.Each(w, reporttest.SeedFor(t), 60, func(n *ranktest.Night) (few []string) {
		s, err := input.Select(n.Input, input.Options{Reference: ranktest.Setup(0).Antenna})
		if err != nil {
			panic(err)
		}
		for _, entry := range Of(s, House{States: statesKnown(n)}, 1).Segments {
			for _, x := range entry.Setups {
				if x.Low != nil && x.Rounds < stats.MinRounds {
					few = append(few, fmt.Sprintf("%v: %d rounds", x.Setup, x.Rounds))
				}
			}
		}
		return few
	}) {
		for _, f := range few {
			t.Error(f)
		}
	}
}
