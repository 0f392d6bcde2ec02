package track

import (
	"cmp"
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
}

// joinTracks puts together tracks of one supply, those nearest in spacing first.
func joinTracks(l *readlog.Log, tracks []Track) []Track {
	var near []pair
	compare := func(i, k int) {
		if d := distance(l.Longest, tracks[i], tracks[k]); d < math.Inf(1) {
			near = append(near, pair{d, min(i, k), max(i, k)})
		}
	}
	for i := range tracks {
		for k := range i {
			compare(i, k)
		}
	}
	for len(near) > 0 {
		own := slices.MinFunc(near, func(a, b pair) int {
			return cmp.Or(cmp.Compare(a.distance, b.distance), cmp.Compare(a.second, b.second), cmp.Compare(a.first, b.first))
		})
		near = slices.DeleteFunc(near, func(p pair) bool {
			return p.first == own.first || p.second == own.first || p.first == own.second || p.second == own.second
		})
		tracks[own.first], tracks[own.second] = merged(tracks[own.first], tracks[own.second]), nil
		for k, t := range tracks {
			if t != nil && k != own.first {
				compare(own.first, k)
			}
		}
	}
	return slices.DeleteFunc(tracks, func(t Track) bool { return t == nil })
}

func merged(a, b Track) Track {
	all := append(slices.Clone(a), b...)
	slices.SortStableFunc(all, func(x, y Detection) int { return cmp.Or(x.At.Compare(y.At), cmp.Compare(x.Survey, y.Survey)) })
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
