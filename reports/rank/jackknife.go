package rank

import (
	"math"

	"nightfloor/reports/stats"
)

// newJackknife leaves out each block in turn.
func (e *effect) newJackknife(blockOf []int, count int, r float64) *stats.Jackknife {
	j := &stats.Jackknife{Full: e.advantage(), Change: make([]float64, count), Weight: make([]float64, count)}
	sizes := make([]int, count)
	for i, b := range blockOf {
		if e.rounds[i] {
			sizes[b]++
		}
	}
	e.split(blockOf, count)
	used := 0
	for b, m := range sizes {
		if m == 0 || m == e.shared {
			continue
		}
		used++
		j.Change[b] = j.Full - e.without(blockOf, b)
		j.Weight[b] = float64(e.shared)/float64(m) - 1
	}
	// Of rounds further apart than neighbours, less is alike.
	apart := float64(len(blockOf)) / float64(max(1, e.shared))
	j.Widen, j.Extra = stats.Widening(e.shared, used, math.Pow(r, max(1, apart))), e.unheard()
	return j
}
