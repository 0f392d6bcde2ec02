package track

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// aliasTolerance is how far, as a share, a spacing may be from a ratio of another to be its
// harmonic alias, and aliasDrift what an hour between the two adds (STATISTICS.md 7.5);
// TestRatiosOfAliases.
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
