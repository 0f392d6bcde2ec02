package strata

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"

	"nightfloor/reports/input"
	"nightfloor/reports/series"
)

// How sure it must be that a known source moves the difference of two floors before its states are
// strata: by 1 dB, with a chance of 0.27 % for what drifts by itself, 3 standard errors of a normal
// error. Of sources that do nothing 0.3 % are then taken, 1.2 % where floors drift slowly; judged by
// scatter alone, as if rounds were independent, 17 % there (simulation; STATISTICS.md 4.4).
// TestWhatASourceMustMove, TestSourcesThatDoNothing, TestSlowDriftIsNoSource; sureMoved, of rounds in
// whose midst a source was switched, TestSwitchedInTheMidst.
const (
	leastMoved = 1.0
	chance     = 0.0027
	sureMoved  = 3.0
)

// A Source is a noise source with its hours. Outside of both nobody knows whether it was on.
type Source struct {
	ID  int          // as it is called: source 2; 0: steps of the floor that no source explains
	On  []input.Span // when it was on; goes before Off
	Off []input.Span // when it was known to be off
}

// A state is what is known of a source, at a visit or over the two visits of a round.
type state int8

const (
	unknown state = iota
	off
	on
	mixed  // on at one visit and off at the other: the source was switched in the midst of the round
	either // nobody knows which, and the difference of floors is the same in both
)

// at gives the state at an instant.
func (s *Source) at(t time.Time) state {
	for _, span := range s.On {
		if span.Holds(t) {
			return on
		}
	}
	for _, span := range s.Off {
		if span.Holds(t) {
			return off
		}
	}
	return unknown
}

// together gives the state over two visits.
func together(a, b state) state {
	switch {
	case a == unknown || b == unknown:
		return unknown
	case a != b:
		return mixed
	}
	return a
}

// chooseStrata gives the sources that move the difference of floors of a pair, each within the
// states of those before it, first the one that moves it most.
func (p *pair) chooseStrata() (chosen []int) {
	label := make([]string, len(p.x)) // by round
	for {
		best, most := -1, 0.0
		for s := range p.of.Sources {
			if size := p.moved(s, label); size > most {
				best, most = s, size
			}
		}
		if best < 0 {
			return chosen
		}
		chosen = append(chosen, best)
		for n := range label {
			label[n] = labelWith(label[n], p.state(best, n))
		}
	}
}

// A label tells a round from others by the states of some sources, a letter each; noLabel is that
// of a round in which one of them is not known, or changed.
const noLabel = "?"

// labelWith gives the label of a round once one more source is told apart.
func labelWith(label string, s state) string {
	switch {
	case label == noLabel || s == unknown || s == mixed:
		return noLabel
	case s == on:
		return label + "+"
	case s == either:
		return label + "*"
	}
	return label + "-"
}

// moved gives by how many dB a source moves the difference of floors within rounds of one label, 0
// where that is not sure. Labels that hold two rounds of both states tell, each as far as its
// rounds do.
func (p *pair) moved(source int, label []string) float64 {
	x := series.Series{Values: p.x, Times: p.times}
	var names []string // by stratum
	rounds := map[string]*moments{}
	for n := range p.x {
		name := labelWith(label[n], p.state(source, n))
		if name == noLabel || math.IsNaN(p.x[n]) {
			x.Stratum = append(x.Stratum, -1)
			continue
		}
		if rounds[name] == nil {
			rounds[name], names = &moments{}, append(names, name)
		}
		rounds[name].add(p.x[n])
		x.Stratum = append(x.Stratum, slices.Index(names, name))
	}
	weights := stepWeights(names, rounds)
	size := 0.0
	for i, name := range names {
		size += weights[i] * rounds[name].mean()
	}
	if size = math.Abs(size); size <= leastMoved {
		return 0
	}
	fit := series.Of(x)
	step := fit.Sum(series.Pool([]*series.Fit{fit}, 2), func(stratum int) float64 { return weights[stratum] })
	if step.Told() && 2*min(step.CDF(0), 1-step.CDF(0)) < chance {
		return size
	}
	return 0
}

// stepWeights gives by stratum how its mean counts in the step that a source makes.
func stepWeights(names []string, rounds map[string]*moments) []float64 {
	weights, sum := make([]float64, len(names)), 0.0
	for i, name := range names {
		before := name[:len(name)-1]
		a, b := rounds[before+"+"], rounds[before+"-"]
		if a == nil || b == nil || a.n < 2 || b.n < 2 {
			continue
		}
		weights[i] = a.n * b.n / (a.n + b.n)
		if sum += weights[i] / 2; name == before+"-" { // each label comes twice
			weights[i] *= -1
		}
	}
	if sum > 0 {
		floats.Scale(1/sum, weights)
	}
	return weights
}

// movesInTheMidst tells whether the difference of floors differs where a source was on at one
// visit only, by 1 dB and 3 standard errors: one that raises both floors alike shows nowhere else. That it
// does is known from two rounds in which it was on at both; else the groups of the difference tell.
func (p *pair) movesInTheMidst(source int) bool {
	var same, midst moments
	times := 0
	for n, x := range p.x {
		if s := p.state(source, n); !math.IsNaN(x) && (s == on || s == off) {
			same.add(x)
			if s == on {
				times++
			}
		}
	}
	for n, x := range p.x {
		switch {
		case math.IsNaN(x) || p.state(source, n) != mixed:
		case p.of.states[source][p.k][n] == on:
			midst.add(x - same.mean())
		default:
			midst.add(same.mean() - x)
		}
	}
	if same.n < 3 || midst.n == 0 || times < 2 {
		return false
	}
	scatter := math.Sqrt(same.squares() / (same.n - 1))
	return midst.mean() > leastMoved && midst.mean() > sureMoved*scatter*math.Sqrt(1/midst.n+1/same.n)
}
