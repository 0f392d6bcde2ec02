package plan

import (
	"math/rand/v2"
	"slices"
)

// Orders of the setups in a round.
const (
	OrderShuffled = "shuffled"
	// OrderABBA goes there and back again: every setup has two visits in a round,
	// so that a level that drifts evenly changes no difference within it.
	OrderABBA = "ABBA"
)

// VisitsPerRound gives how many visits each setup has in a round.
func (p Plan) VisitsPerRound() int {
	if p.Order == OrderABBA {
		return 2
	}
	return 1
}

// A Shuffler gives the order of the setups in one round after the other. It depends
// on the plan's seed only, so that a survey that is taken up again goes on in the
// order in which it would have gone on.
type Shuffler struct {
	plan Plan
	rng  *rand.Rand
	last int // the setup that closed the round before, −1 for none
}

// Shuffler gives a shuffler that stands before the plan's first round.
func (p Plan) Shuffler() *Shuffler {
	const stream = 0x6e69676874 // any constant: PCG wants two words of seed
	return &Shuffler{plan: p, rng: rand.New(rand.NewPCG(p.Seed, stream)), last: -1}
}

// Next gives the order of the next round as indices into the plan's setups. It does not
// open with the setup that closed the round before, which would then be heard twice as
// long in a row as any other.
func (s *Shuffler) Next() []int {
	n := len(s.plan.Setups)
	order := s.rng.Perm(n)
	if n > 1 && order[0] == s.last {
		swap := 1 + s.rng.IntN(n-1)
		order[0], order[swap] = order[swap], order[0]
	}
	if s.plan.Order == OrderABBA {
		back := slices.Clone(order)
		slices.Reverse(back)
		order = append(order, back...)
	}
	s.last = order[len(order)-1]
	return order
}
