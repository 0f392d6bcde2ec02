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

// joinTracks puts together tracks of one supply.
func joinTracks(l *readlog.Log, tracks []Track) []Track {
	for _, part := range inReach(tracks) {
		joinNear(l.Longest, tracks, part)
	}
	return slices.DeleteFunc(tracks, func(t Track) bool { return t == nil })
}

// inReach parts tracks where between their last spacings lies more than two of one supply
// may be apart. Joined tracks end as one of them did, so that they stay within their part.
func inReach(tracks []Track) (parts [][]int) {
	order := make([]int, len(tracks))
	for i := range order {
		order[i] = i
	}
	last := func(i int) float64 { return tracks[i].last().Spacing }
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(last(a), last(b)) })
	for k, i := range order {
		if k == 0 || RelativeDifference(last(i), last(order[k-1])) > 2*ColdTolerance {
			parts = append(parts, nil)
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], i)
	}
	for _, p := range parts {
		slices.Sort(p)
	}
	return parts
}

// joinNear puts together tracks of one supply, those nearest in spacing first, and leaves nil
// in place of one that was joined to another.
func joinNear(longest time.Duration, tracks []Track, part []int) {
	apart := make([][]float64, len(part)) // by pair, the later first
	compare := func(i, k int) {
		apart[max(i, k)][min(i, k)] = distance(longest, tracks[part[i]], tracks[part[k]])
	}
	for i := range part {
		apart[i] = make([]float64, i)
		for k := range i {
			compare(i, k)
		}
	}
	for {
		least, a, b := math.Inf(1), -1, -1
		for i, row := range apart {
			for k, d := range row {
				if d < least {
					least, a, b = d, k, i
				}
			}
		}
		if a < 0 {
			return
		}
		tracks[part[a]], tracks[part[b]] = merged(tracks[part[a]], tracks[part[b]]), nil
		apart[b] = nil
		for i := range part {
			if i > b && apart[i] != nil {
				apart[i][b] = math.Inf(1)
			}
			if i != a && tracks[part[i]] != nil {
				compare(a, i)
			}
		}
	}
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
	i := 0
	for k := range b {
		own := &b[k]
		if i < len(a) && a[i].At.Before(own.At) {
			i += a[i:].since(own.At)
		}
		other := a.beside(i, own.At)
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
