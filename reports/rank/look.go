package rank

import (
	"slices"

	"nightfloor/reports/series"
)

// A look is one way of looking at a comparison: over all strata, or over one state of the noise sources.
type look struct {
	state  string   // "": all
	known  string   // the part of it that the known sources make
	first  *pairing // that shows it
	rounds []bool   // by round of the comparison: that one was in this state
}

// strata gives those of a pair that make up the state. Where something unknown raised the floor through
// others, and this pair does not show it, they are those of the known sources.
func (l look) strata(p *pairing) (own []int, shown bool) {
	for i, s := range p.strata.States {
		if slices.Contains(s.Names(), l.state) {
			own = append(own, p.inState(i)...)
		}
	}
	if shown = len(own) > 0 || l.state == l.known; shown {
		return own, true
	}
	for i, s := range p.strata.States {
		if s.Levels == 1 && s.Known() == l.known {
			own = append(own, p.inState(i)...)
		}
	}
	return own, false
}

// of gives the distribution of a pair's mean, nil where it is not known.
func (l look) of(p *pairing, fit *series.Fit, w series.Weights) *series.Mixture {
	switch {
	case fit == nil:
		return nil
	case l.state == "":
		return fit.By(w, p.weights)
	}
	own, _ := l.strata(p)
	return fit.Only(w, own...)
}

// in tells by round of the comparison which of those that count for a pair were in the state.
func (l look) in(p *pairing) []bool {
	own, shown := l.strata(p)
	in := make([]bool, len(p.values.Values))
	for i := range in {
		in[i] = p.values.Counts(i) && slices.Contains(own, p.values.Stratum[i]) && (shown || l.rounds[i])
	}
	return in
}

// shared counts the rounds that a pair shares.
func (l look) shared(p *pairing) int {
	if l.state == "" {
		return p.shared
	}
	return count(l.in(p))
}

func count(of []bool) (n int) {
	for _, x := range of {
		if x {
			n++
		}
	}
	return n
}

// statesToTell gives the states of noise sources that have an entry of their own, where there are others: of
// the setups that share them with the reference most do in enough rounds. One that something unknown makes
// must be the same through all that show it, and every setup must have its place in it, or one would seem to
// be the best because others are not there.
func (c *comparison) statesToTell() (tell []look) {
	for _, l := range c.statesSeen() {
		all, met, told, same := 0, 0, 0, true
		for k := range c.matrix.Setups {
			p := c.pairs[[2]int{k, c.ref}]
			if p == nil || p.fit == nil || !c.tells([2]int{k, c.ref}) {
				continue
			}
			all++
			if m := l.of(p, p.fit, c.weights); m != nil {
				met++
				if m.Told() {
					told++
				}
			}
			if _, shown := l.strata(p); shown {
				same = same && l.isSame(p)
			}
		}
		if 2*told > met && (l.state == l.known || same && met == all) {
			tell = append(tell, l)
		}
	}
	return tell
}

// statesSeen gives the states that setups show against the reference.
func (c *comparison) statesSeen() (all []look) {
	for k := range c.matrix.Setups {
		p := c.pairs[[2]int{k, c.ref}]
		if p == nil || p.fit == nil || len(p.strata.States) < 2 || !c.tells([2]int{k, c.ref}) {
			continue
		}
		for _, s := range p.strata.States {
			for _, name := range s.Names() {
				if !slices.ContainsFunc(all, func(l look) bool { return l.state == name }) {
					l := look{state: name, known: s.Known(), first: p}
					l.rounds = l.in(p)
					all = append(all, l)
				}
			}
		}
	}
	return all
}

// isSame tells whether a pair shows the state in much the same rounds: most of those that either has, since a
// round in whose midst it changed may be one or the other.
func (l look) isSame(p *pairing) bool {
	either, both := 0, 0
	for i, in := range l.in(p) {
		if p.values.Counts(i) && l.first.values.Counts(i) && (in || l.rounds[i]) {
			either++
			if in && l.rounds[i] {
				both++
			}
		}
	}
	return 2*both > either
}
