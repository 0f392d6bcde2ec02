package strata

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"

	"nightfloor/reports/series"
)

// A Segment is what was measured of one segment, by setup and round.
type Segment struct {
	Floors    [][]float64   // dB, each setup's at one gain; NaN: not known
	Visits    [][]time.Time // the middle of the visit; zero: nothing measured that counts
	Gainless  []bool        // by setup: nobody knows its gain, which is taken to stand still; nil: none
	Surveys   []int64       // by round; nil: all are of one
	Sources   []Source
	Reference int // the setup against which sources are chosen; −1: none, and so no source is
}

// A Choice is which sources matter in a segment.
type Choice struct {
	Segment
	// Strata are those, by place in Sources, whose states are strata, and Switched those that raise both
	// floors of some pair alike, so that only rounds in whose midst they were switched do not count.
	Strata, Switched []int
	states           [][][]state // by source, setup and round
}

// Choose takes the sources that any pair with the reference chooses, so that the states mean the
// same of every setup.
func Choose(s Segment) *Choice {
	c := &Choice{Segment: s}
	for i := range s.Sources {
		own := make([][]state, len(s.Visits))
		for k, visits := range s.Visits {
			for _, at := range visits {
				own[k] = append(own[k], s.Sources[i].at(at))
			}
		}
		c.states = append(c.states, own)
	}
	strata, midst := make([]bool, len(s.Sources)), make([]bool, len(s.Sources))
	for k := range s.Visits {
		if k == s.Reference || s.Reference < 0 {
			continue
		}
		p := c.pair(k, s.Reference)
		for _, i := range p.chooseStrata() {
			strata[i] = true
		}
		for i := range s.Sources {
			midst[i] = midst[i] || p.movesInTheMidst(i)
		}
	}
	for i := range s.Sources {
		if strata[i] {
			c.Strata = append(c.Strata, i)
		} else if midst[i] {
			c.Switched = append(c.Switched, i)
		}
	}
	byID := func(a, b int) int { return cmp.Compare(s.Sources[a].ID, s.Sources[b].ID) }
	slices.SortStableFunc(c.Strata, byID)
	slices.SortStableFunc(c.Switched, byID)
	return c
}

// A pair is two setups while their strata are made.
type pair struct {
	of    *Choice
	k, j  int
	both  []bool    // by round: both were measured
	x     []float64 // by round: difference of floors, k over j; NaN: not known
	times []float64 // by round: when it was measured, in usual distances of rounds
	// judged are states, by source and round, that the hours of the source do not tell, but the difference of floors does.
	judged map[[2]int]state
}

func (c *Choice) pair(k, j int) *pair {
	rounds := len(c.Visits[k])
	p := &pair{of: c, k: k, j: j, both: make([]bool, rounds), x: slices.Repeat([]float64{math.NaN()}, rounds), times: make([]float64, rounds)}
	var measured []int
	var instants []time.Time
	var surveys []int64
	for n := range rounds {
		if p.both[n] = !c.Visits[k][n].IsZero() && !c.Visits[j][n].IsZero(); p.both[n] {
			p.x[n] = c.Floors[k][n] - c.Floors[j][n]
			measured, instants = append(measured, n), append(instants, c.Visits[k][n])
			if c.Surveys != nil {
				surveys = append(surveys, c.Surveys[n])
			}
		}
	}
	for i, t := range series.Times(instants, surveys) {
		p.times[measured[i]] = t
	}
	return p
}

// gainless tells whether a gain of both that stepped may show in their difference.
func (p *pair) gainless() bool {
	own := p.of.Gainless
	return own != nil && (own[p.k] || own[p.j])
}

// state gives that of a source over both visits of a round.
func (p *pair) state(source, round int) state {
	if s, ok := p.judged[[2]int{source, round}]; ok {
		return s
	}
	own := p.of.states[source]
	return together(own[p.k][round], own[p.j][round])
}

// A Pair is the strata of two setups.
type Pair struct {
	Stratum []int       // by round, from 0; −1: it does not count
	States  []State     // by stratum
	Left    []Left      // rounds measured through both that do not count, in order
	between [][]float64 // by round: of one that is left out, how much of it is in which stratum; nil: nobody knows
}

// Weights gives by stratum how many of some rounds were in its state. One that is left out, between two states, counts half to each.
func (p Pair) Weights(some func(round int) bool) []float64 {
	weights := make([]float64, len(p.States))
	for n, stratum := range p.Stratum {
		switch {
		case !some(n):
		case stratum >= 0:
			weights[stratum]++
		case p.between[n] != nil:
			floats.Add(weights, p.between[n])
		}
	}
	return weights
}

// Pair gives the strata of setup k over setup j.
func (c *Choice) Pair(k, j int) Pair {
	p, out := c.pair(k, j), &Pair{}
	p.judge()
	p.leaveSwitched(out)
	p.leaveRaised(out)
	for {
		group, singles := p.split()
		if len(singles) == 0 {
			all := p.number(out, group)
			p.spread(out, all)
			break
		}
		p.leave(out, singles...)
	}
	slices.SortStableFunc(out.Left, func(a, b Left) int { return cmp.Compare(a.Round, b.Round) })
	return *out
}

// leave takes rounds out.
func (p *pair) leave(out *Pair, left ...Left) {
	for _, l := range left {
		p.both[l.Round] = false
	}
	out.Left = append(out.Left, left...)
}

// leaveSwitched takes rounds out in which the state of a source that matters changed, or is not
// known.
func (p *pair) leaveSwitched(out *Pair) {
	for n := range p.both {
		for _, s := range slices.Concat(p.of.Strata, p.of.Switched) {
			state, makesStrata := p.state(s, n), slices.Contains(p.of.Strata, s)
			switch id := p.of.Sources[s].ID; {
			case !p.both[n]:
			case state == mixed:
				p.leave(out, Left{n, SwitchedInMidst, id})
			case state == unknown && makesStrata:
				p.leave(out, Left{n, NotKnown, id})
			}
		}
	}
}

// label gives the label of a round by some sources.
func (p *pair) label(round int, sources []int) (label string) {
	for _, s := range sources {
		label = labelWith(label, p.state(s, round))
	}
	return label
}

// mostInMidst is in what share of the rounds something unknown may have been switched in the midst where a
// gain is not known: one that steps from visit to visit looks alike in half of them, a device that is on for
// four rounds on the mean in an eighth (simulation; STATISTICS.md 4.4). TestGainsThatStep, TestUnknownDeviceThatReachesAll.
const mostInMidst = 0.25

// leaveRaised takes rounds out in which only one setup stands raised, where in any other both do, and whose
// difference of floors is not the usual one. Where a gain is not known that may be gains that step, which do
// the advantage no harm.
func (p *pair) leaveRaised(out *Pair) {
	var rounds []int
	var a, b []float64
	for n, x := range p.x {
		if p.both[n] && !math.IsNaN(x) {
			rounds, a, b = append(rounds, n), append(a, p.of.Floors[p.k][n]), append(b, p.of.Floors[p.j][n])
		}
	}
	first, second, both := raised(a), raised(b), false
	for i := range rounds {
		both = both || first[i] && second[i]
	}
	of, _ := p.split()
	var left []Left
	for i, n := range rounds {
		if both && first[i] != second[i] && !p.isUsual(of, of[n]) {
			left = append(left, Left{Round: n, Why: RaisedInMidst})
		}
	}
	if !p.gainless() || float64(len(left)) <= mostInMidst*float64(len(rounds)) {
		p.leave(out, left...)
	}
}

// isUsual tells whether no other group holds more rounds in these states of the sources.
func (p *pair) isUsual(of []cluster, c cluster) bool {
	size := map[cluster]int{}
	for _, other := range of {
		if other.label == c.label {
			size[other]++
		}
	}
	for _, n := range size {
		if n > size[c] {
			return false
		}
	}
	return true
}

// A cluster names a stratum while they are made: the states of sources, and the group of the
// difference of floors.
type cluster struct {
	label string
	group int
}

// split gives the cluster of each round, and the rounds that are to be left out: those whose group is not
// known, and those alone in their state where there are others.
func (p *pair) split() (of []cluster, left []Left) {
	of = make([]cluster, len(p.both))
	rounds := map[string][]int{}
	for n, x := range p.x {
		if of[n] = (cluster{label: noLabel}); p.both[n] {
			of[n] = cluster{label: p.label(n, p.of.Strata)}
			if !math.IsNaN(x) {
				rounds[of[n].label] = append(rounds[of[n].label], n)
			}
		}
	}
	many := map[string]bool{} // labels with several groups
	for label, own := range rounds {
		var x []float64
		for _, n := range own {
			x = append(x, p.x[n])
		}
		group, count := groups(x)
		many[label] = count > 1
		for i, n := range own {
			of[n].group = group[i]
		}
	}
	size := map[cluster]int{}
	for n, c := range of {
		if p.both[n] && many[c.label] && math.IsNaN(p.x[n]) {
			left = append(left, Left{Round: n, Why: FloorNotKnown})
		} else if p.both[n] {
			size[c]++
		}
	}
	if len(left) > 0 {
		return of, left
	}
	for n, c := range of {
		if p.both[n] && size[c] == 1 && len(size) > 1 {
			left = append(left, Left{Round: n, Why: OneRoundOnly})
		}
	}
	if len(left) == len(size) { // no state was met twice
		return of, nil
	}
	return of, left
}

// number numbers the strata: by the states of sources, and within them as the floors stand raised.
func (p *pair) number(out *Pair, of []cluster) (all []cluster) {
	type sums struct{ floors, x moments }
	known := map[cluster]*sums{}
	for n, c := range of {
		if !p.both[n] {
			continue
		}
		if known[c] == nil {
			known[c], all = &sums{}, append(all, c)
		}
		if !math.IsNaN(p.x[n]) {
			known[c].floors.add(p.of.Floors[p.k][n] + p.of.Floors[p.j][n])
			known[c].x.add(p.x[n])
		}
	}
	slices.SortStableFunc(all, func(a, b cluster) int {
		return cmp.Or(cmp.Compare(a.label, b.label), cmp.Compare(known[a].floors.mean(), known[b].floors.mean()))
	})
	for i, c := range all {
		same := func(d cluster) bool { return d.label == c.label }
		lowest := slices.IndexFunc(all, same)
		s := State{Raised: i - lowest, Levels: 1, OrGain: p.gainless()}
		for lowest+s.Levels < len(all) && same(all[lowest+s.Levels]) {
			s.Levels++
		}
		if s.Raised > 0 {
			s.By = math.Abs(known[c].x.mean() - known[all[lowest]].x.mean())
		}
		for at, source := range p.of.Strata {
			s.Sources = append(s.Sources, SourceState{p.of.Sources[source].ID, c.label[at] == '+'})
		}
		out.States = append(out.States, s)
	}
	for n, c := range of {
		stratum := -1
		if p.both[n] {
			stratum = slices.Index(all, c)
		}
		out.Stratum = append(out.Stratum, stratum)
	}
	return all
}

// spread tells of rounds that are left out to which strata they belong: alike to all states that sources may have been in
// between both visits, and within them as the rounds that count. One alone in its state belongs to none.
func (p *pair) spread(out *Pair, strata []cluster) {
	size := make([]float64, len(strata))
	for _, stratum := range out.Stratum {
		if stratum >= 0 {
			size[stratum]++
		}
	}
	out.between = make([][]float64, len(p.both))
	for _, l := range out.Left {
		own, labels := map[string]float64{}, 0.0 // rounds of labels that it may have
		for i, c := range strata {
			if l.Why != OneRoundOnly && p.mayBe(c.label, l.Round) {
				if own[c.label] == 0 {
					labels++
				}
				own[c.label] += size[i]
			}
		}
		if labels == 0 {
			continue
		}
		out.between[l.Round] = make([]float64, len(strata))
		for i, c := range strata {
			if own[c.label] > 0 {
				out.between[l.Round][i] = size[i] / own[c.label] / labels
			}
		}
	}
}

// mayBe tells whether the states of sources over a round may be those of a label.
func (p *pair) mayBe(label string, round int) bool {
	for at, source := range p.of.Strata {
		if s := p.state(source, round); s == on && label[at] != '+' || s == off && label[at] != '-' {
			return false
		}
	}
	return true
}
