package stats

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Resamples is the number of draws behind best_share: its standard error is 0.011 at worst.
// TestScatterOfBestShare fails when it moves.
const Resamples = 2000

// BestShares gives for each advantage the share of resamples of blocks in which it
// is the greatest. A resample lets each block count by chance (normally about 1) and
// moves the advantages by what the block does to them, so that they scatter as their
// standard errors say, with all that widens those; and divides by the scatter that
// chance gives to a standard error of so few blocks, so that differences follow the t
// distribution of their intervals [Kotz]. Drawing whole blocks, with nothing
// studentised, would overstate the certainty: with five of them a tie of the intervals could be
// first in every draw.
//
// As in Minus, advantages that rest on the same blocks move together, others apart.
func BestShares(js []*Jackknife, seed uint64) []float64 {
	random := rand.New(rand.NewPCG(seed, 0x62657374)) // any second word, always the same
	groups := groupByBlocks(js)
	parts := make([][]float64, len(js))
	extra := make([]float64, len(js))
	for k, j := range js {
		parts[k], extra[k] = j.parts(), math.Sqrt(j.Extra)
	}
	first := make([]int, len(js))
	x := make([]float64, len(js))
	for range Resamples {
		for _, g := range groups {
			g.draw(random)
			for _, k := range g.members {
				x[k] = js[k].Full
				if g.used > 0 {
					x[k] += g.stretch * (dot(parts[k], g.count) + extra[k]*random.NormFloat64())
				}
			}
		}
		best := 0
		for k := range x {
			if x[k] > x[best] {
				best = k
			}
		}
		first[best]++
	}
	share := make([]float64, len(js))
	for k, n := range first {
		share[k] = float64(n) / Resamples
	}
	return share
}

// A blockGroup is advantages that rest on the same blocks, while they are resampled.
type blockGroup struct {
	members []int
	used    int       // blocks that hold rounds; 0: the reference itself, which nothing moves
	count   []float64 // by block: how often it counts in this resample, less 1
	stretch float64   // what the standard error of so few blocks is off by in this resample
}

// groupByBlocks puts advantages together that rest on the same blocks.
func groupByBlocks(js []*Jackknife) []*blockGroup {
	var groups []*blockGroup
	for k, j := range js {
		i := slices.IndexFunc(groups, func(g *blockGroup) bool { return j.sameBlocks(js[g.members[0]]) })
		if i < 0 {
			i = len(groups)
			groups = append(groups, &blockGroup{used: j.used(), count: make([]float64, len(j.Weight))})
		}
		groups[i].members = append(groups[i].members, k)
	}
	return groups
}

// draw begins a resample.
func (g *blockGroup) draw(random *rand.Rand) {
	if g.used == 0 {
		return
	}
	for b := range g.count {
		g.count[b] = random.NormFloat64()
	}
	freedom := float64(max(1, g.used-1))
	g.stretch = math.Sqrt(freedom / distuv.ChiSquared{K: freedom, Src: random}.Rand())
}

// dot gives the sum of products.
func dot(a, b []float64) (sum float64) {
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}
