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
// is after warmAfter, and within ColdTolerance before (STATISTICS.md 7.4); TestOverAPause.
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

// overPause is the distance of tracks of which b begins after a ended. A short pause is bridged as
// from epoch to epoch; after a longer one the spacings count that both end with, or, where either
// is too short to be warm, the nearer of b's first and last.
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

// A spacing is a harmonic alias of another where it is within aliasTolerance, as a share, of a ratio
// of it; aliasDrift is added for each hour between the two (STATISTICS.md 7.5); TestRatiosOfAliases,
// TestAliasesLater.
const aliasTolerance, aliasDrift = 3e-4, trackDrift / 4

// aliasRatios are the ratios of spacings that one source may be found at: those of whole numbers up
// to 4.
var aliasRatios = []float64{2, 3, 4, 1.0 / 2, 3.0 / 2, 1.0 / 3, 2.0 / 3, 4.0 / 3, 1.0 / 4, 3.0 / 4}

// joinAliases puts a comb that is found at another multiple of a source's spacing, while the
// source is there, with the source. Of the two the one with the greater evidence is the source;
// its aliases count at epochs at which it was not found itself, one at each.
func joinAliases(tracks []Track) (out []Track) {
	evidence := func(t Track) (sum float64) {
		for i := range t {
			sum -= math.Log10(t[i].Doubt)
		}
		return sum
	}
	slices.SortStableFunc(tracks, func(a, b Track) int { return cmp.Compare(evidence(b), evidence(a)) })
	var aliases []Track // of each that is given
	for _, t := range tracks {
		at := slices.IndexFunc(out, func(own Track) bool { return own.hasAlias(t) })
		if at < 0 {
			out, aliases = append(out, t), append(aliases, nil)
			continue
		}
		for _, d := range t {
			d.HarmonicAlias = true
			aliases[at] = append(aliases[at], d)
		}
	}
	for i, own := range out {
		out[i] = slices.CompactFunc(merged(own, aliases[i]), func(a, b Detection) bool { return a.Epoch == b.Epoch })
	}
	return out
}

// hasAlias tells whether three quarters of another track or more were found at one small ratio
// of this one's spacing, within an hour of where it was found.
func (t Track) hasAlias(other Track) bool {
	return slices.ContainsFunc(aliasRatios, func(ratio float64) bool {
		misses := 0
		for i := range other {
			d := &other[i]
			own := t.Nearest(d.At)
			if since := d.At.Sub(own.At).Abs(); since > time.Hour || RelativeDifference(own.Spacing*ratio, d.Spacing) > aliasTolerance+aliasDrift*since.Hours() {
				if misses++; 4*misses > len(other) {
					return false
				}
			}
		}
		return true
	})
}
