package reports

import "math"

// newJackknife leaves out each block in turn.
func (e *effect) newJackknife(blockOf []int, count int, r float64) *jackknife {
	j := &jackknife{full: e.advantage(), change: make([]float64, count), weight: make([]float64, count)}
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
		j.change[b] = j.full - e.without(blockOf, b)
		j.weight[b] = float64(e.shared)/float64(m) - 1
	}
	// Of rounds further apart than neighbours, less is alike.
	apart := float64(len(blockOf)) / float64(max(1, e.shared))
	j.widen, j.extra = widening(e.shared, used, math.Pow(r, max(1, apart))), e.unheard()
	return j
}
