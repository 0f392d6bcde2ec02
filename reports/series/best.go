package series

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// confidence is that with which the best is among those that may be it. TestSevenTies.
	confidence = 0.95
	// draws is how many stand behind BestShares: their standard error is 0.011 at worst.
	// TestScatterOfBestShares.
	draws = 2000
)

// MayBeBest tells of setups which may be the best, so that the true best is among them with 95 %,
// jointly [Hsu:1996]. Pair gives the advantage of i over j, for i under j; nil: not known. Setup i is
// excluded by any j that it reaches with a probability under 1 − 0.95^{1/(K−1)} alone, Šidák's
// bound of K − 1 comparisons. Pairs without an interval exclude nobody, and neither do pairs
// that exclude all, each by the next: they rest on different rounds.
func MayBeBest(setups int, pair func(i, j int) *Mixture) []bool {
	may := make([]bool, setups)
	least := 1 - math.Pow(confidence, 1/float64(max(1, setups-1)))
	left := setups
	for i := range may {
		may[i] = true
	}
	exclude := func(i int) {
		if may[i] {
			may[i], left = false, left-1
		}
	}
	for j := range setups {
		for i := range j {
			m := pair(i, j)
			if m == nil || !m.Told() {
				continue
			}
			if behind := m.CDF(0); 1-behind < least {
				exclude(i)
			} else if behind < least {
				exclude(j)
			}
		}
	}
	for i := range may {
		may[i] = may[i] || left == 0
	}
	return may
}

// BestShares gives for the advantages over one reference the share of draws in which each is the
// greatest; nil stands for the reference itself, which is 0. A draw moves each round by chance, by
// the same for all setups, and each advantage by what its rounds do to it, divided by the scatter
// that chance gives to a standard error of so few rounds: advantages that rest on the same rounds
// move together, and differences follow t distributions [Kotz:2004].
func BestShares(advantages []*Mixture, seed uint64) []float64 {
	random := rand.New(rand.NewPCG(seed, 0x62657374)) // any second word, always the same
	rounds, freedom := 0, math.Inf(1)
	for _, m := range advantages {
		if m != nil && m.Told() {
			rounds, freedom = max(rounds, len(m.parts)), min(freedom, m.freedom)
		}
	}
	first, chance, x := make([]float64, len(advantages)), make([]float64, rounds), make([]float64, len(advantages))
	for range draws {
		for t := range chance {
			chance[t] = random.NormFloat64()
		}
		stretch := 1.0
		if rounds > 0 {
			stretch = math.Sqrt(freedom / distuv.ChiSquared{K: freedom, Src: random}.Rand())
		}
		for k, m := range advantages {
			if m == nil {
				continue
			}
			x[k] = m.Mean
			if m.Told() {
				x[k] += stretch * floats.Dot(m.parts, chance[:len(m.parts)])
			}
		}
		first[floats.MaxIdx(x)]++
	}
	floats.Scale(1./draws, first)
	return first
}
