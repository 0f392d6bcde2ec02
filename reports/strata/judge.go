package strata

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// judge finds the states that the hours of sources do not tell: a source may have been switched between the two
// visits, or nobody knows what it was at one. Where only one setup hears it, only that visit matters, and
// the difference of floors is that of either state. Where both hear it, it is neither.
func (p *pair) judge() {
	judged := map[[2]int]state{}
	for _, source := range p.of.Strata {
		others := slices.DeleteFunc(slices.Clone(p.of.Strata), func(s int) bool { return s == source })
		rounds := map[string][]int{} // by the states of the others
		for n, x := range p.x {
			if label := p.label(n, others); label != noLabel && !math.IsNaN(x) {
				rounds[label] = append(rounds[label], n)
			}
		}
		for _, own := range rounds {
			for n, is := range p.judgeAmong(source, own) {
				judged[[2]int{source, n}] = is
			}
		}
	}
	p.judged = judged
}

// judgeAmong judges rounds that are alike in the states of all other sources.
func (p *pair) judgeAmong(source int, rounds []int) map[int]state {
	var without, with moments
	var doubtful []int
	for _, n := range rounds {
		switch p.state(source, n) {
		case off:
			without.add(p.x[n])
		case on:
			with.add(p.x[n])
		default:
			doubtful = append(doubtful, n)
		}
	}
	judged := map[int]state{}
	if without.n < 2 || with.n < 2 {
		p.judgeByGroups(source, rounds, judged)
		return judged
	}
	for _, n := range doubtful {
		if s := nearest(without, with, p.x[n]); s != unknown {
			judged[n] = s
		}
	}
	return judged
}

// nearest gives to which of both states a difference of floors belongs: it must lie no farther from their mean than
// by chance in 0.27 % of rounds, and they twice as far from each other. TestNearest.
func nearest(without, with moments, x float64) state {
	freedom := without.n + with.n - 2
	spread := math.Sqrt((without.squares() + with.squares()) / freedom)
	near := spread * distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(1-chance/2)
	if math.Abs(with.mean()-without.mean()) < 2*near {
		return unknown
	}
	switch {
	case math.Abs(x-without.mean()) <= near:
		return off
	case math.Abs(x-with.mean()) <= near:
		return on
	}
	return unknown
}

// judgeByGroups judges rounds where hardly any of one state is known: the differences of floors
// must fall into two groups, one of which holds all that are known to be of the other.
func (p *pair) judgeByGroups(source int, rounds []int, judged map[int]state) {
	var x []float64
	for _, n := range rounds {
		x = append(x, p.x[n])
	}
	group, count := groups(x)
	if count != 2 {
		return
	}
	var is [2]state // by group
	for i, n := range rounds {
		switch s := p.state(source, n); {
		case s != on && s != off:
		case is[group[i]] == unknown || is[group[i]] == s:
			is[group[i]] = s
		default:
			return
		}
	}
	switch {
	case is[0] == is[1]:
		return
	case is[0] == unknown:
		is[0] = on + off - is[1]
	case is[1] == unknown:
		is[1] = on + off - is[0]
	}
	for i, n := range rounds {
		if s := p.state(source, n); s != on && s != off {
			judged[n] = is[group[i]]
		}
	}
}
