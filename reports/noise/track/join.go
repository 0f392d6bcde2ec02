package track

import (
	"cmp"
	"container/heap"
	"math"
	"slices"
	"time"

	"nightfloor/reports/readlog"
)

// Tracks are put together where a supply was off, or not measured, and came back. A spacing is
// then where it was, as a share of it, within settledTolerance once the supply is warm, which it
// is after warmAfter, and within ColdTolerance before (STATISTICS.md 7.4); TestCloseSpacings.
const (
	settledTolerance, ColdTolerance = 5e-4, 1.5e-3
	warmAfter                       = 30 * time.Minute
)

// A pair is two tracks that may be one supply's, the second behind the first.
type pair struct {
	distance      float64
	first, second int
	joined        int // tracks that had been joined to either when they were compared
}

// A pairHeap has the nearest pair on top.
type pairHeap []pair

func (h pairHeap) Len() int { return len(h) }
func (h pairHeap) Less(i, k int) bool {
	a, b := &h[i], &h[k]
	return cmp.Or(cmp.Compare(a.distance, b.distance), cmp.Compare(a.second, b.second), cmp.Compare(a.first, b.first)) < 0
}
func (h pairHeap) Swap(i, k int) { h[i], h[k] = h[k], h[i] }
func (h *pairHeap) Push(x any)   { *h = append(*h, x.(pair)) }
func (h *pairHeap) Pop() any {
	last := (*h)[len(*h)-1]
	*h = (*h)[:len(*h)-1]
	return last
}

// joinTracks puts together tracks of one supply, those nearest in spacing first.
func joinTracks(l *readlog.Log, tracks []Track) []Track {
	var near pairHeap
	joined := make([]int, len(tracks))
	compare := func(i, k int) {
		if d := distance(l.Longest, tracks[i], tracks[k]); d < math.Inf(1) {
			heap.Push(&near, pair{d, min(i, k), max(i, k), joined[i] + joined[k]})
		}
	}
	for i := range tracks {
		for k := range i {
			compare(i, k)
		}
	}
	for len(near) > 0 {
		p := heap.Pop(&near).(pair)
		a, b := &tracks[p.first], &tracks[p.second]
		if *a == nil || *b == nil || joined[p.first]+joined[p.second] != p.joined {
			continue
		}
		*a, *b = merged(*a, *b), nil
		joined[p.first]++
		for k, t := range tracks {
			if t != nil && k != p.first {
				compare(p.first, k)
			}
		}
	}
	return slices.DeleteFunc(tracks, func(t Track) bool { return t == nil })
}

func merged(a, b Track) Track {
	all := append(slices.Clone(a), b...)
	slices.SortStableFunc(all, func(x, y Detection) int { return x.At.Compare(y.At) })
	return all
}

// distance tells how far the spacings of two tracks are apart where they may be one supply's;
// +Inf where they are two's.
func distance(longest time.Duration, a, b Track) float64 {
	if RelativeDifference(a.last().Spacing, b.last().Spacing) > 2*ColdTolerance { // whatever the rest says
		return math.Inf(1)
	}
	if b.first().At.Before(a.first().At) {
		a, b = b, a
	}
	if b.first().At.After(a.last().At) {
		return overPause(longest, a, b)
	}
	return interleaved(a, b)
}

// overPause is the distance of tracks of which b begins after a ended. They meet warm, or either
// is too short to be warm.
func overPause(longest time.Duration, a, b Track) float64 {
	meet, warm := RelativeDifference(a.last().Spacing, b.first().Spacing), RelativeDifference(a.last().Spacing, b.last().Spacing)
	pause := b.first().At.Sub(a.last().At)
	switch {
	case pause <= longest && meet <= tolerance(pause):
		return meet
	case a.endsWarm() && b.endsWarm() && warm <= settledTolerance:
		return warm
	case !(a.endsWarm() && b.endsWarm()) && max(meet, warm) <= 2*ColdTolerance && min(meet, warm) <= ColdTolerance:
		return min(meet, warm)
	}
	return math.Inf(1)
}

// endsWarm tells whether the track's last stretch without a pause of an hour is long enough for
// a supply to be warm at its end.
func (t Track) endsWarm() bool {
	for n := len(t) - 1; n > 0 && t[n].At.Sub(t[n-1].At) <= time.Hour; n-- {
		if t.last().At.Sub(t[n-1].At) >= warmAfter {
			return true
		}
	}
	return false
}

// interleaved is the distance of tracks that overlap in time: one supply's never share an
// epoch, and agree wherever they are neighbours.
func interleaved(a, b Track) (d float64) {
	if len(a) < len(b) {
		a, b = b, a
	}
	for k := range b {
		own := &b[k]
		other := a.Nearest(own.At)
		limit := tolerance(own.At.Sub(other.At))
		if own.At.Sub(other.At).Abs() > time.Hour {
			limit = ColdTolerance
		}
		apart := RelativeDifference(other.Spacing, own.Spacing)
		if other.Epoch == own.Epoch || apart > limit {
			return math.Inf(1)
		}
		d = max(d, apart)
	}
	return d
}
