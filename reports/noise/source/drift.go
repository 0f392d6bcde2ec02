package source

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/noise/presence"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
)

// When the spacing of a comb has settled (STATISTICS.md 8.5); TestHowLongADriftTakes unless said otherwise.
const (
	// A drift is told of spacings that were followed for settledLeast once settled, at settledFew
	// epochs or more.
	settledLeast, settledFew = time.Hour, 6
	// Where a source was never on for so long, straightLeast is enough if its spacing ran straight
	// from the beginning on, which that of none does that warms up.
	straightLeast = 20 * time.Minute
	// A spacing has settled where it changes by no more than settledBend, as a share of it, more in
	// one half than in the other; TestBendOfASettledSpacing.
	settledBend = 5e-6
	// driftKnown is how well a drift must be known to be told, as a share of the spacing an
	// hour: a tenth of what a supply does in its first; TestHowWellADriftIsKnown.
	driftKnown = 1e-4
	// A warm-up is told by the spacing within warmUpSeen of when the source came on; TestWarmUpSeen.
	warmUpSeen = 20 * time.Minute
	// The spacing of a source that never settled is the median of the later halves of its spans, or of
	// all where they hold fewer than spacingsFew; TestSpacingNeverSettled.
	spacingsFew = 4
)

// A Drift is how the spacing of a comb moves.
type Drift struct {
	Slope    float64 // Hz an hour, once the supply has settled
	Known    bool    // the slope is
	Straight bool    // it is that of spans too short for the spacing to settle, but straight
	// WarmUp is by how much the spacing stood over what it is once warm, as a share of it, when
	// the source had just come on: the median over the times that was seen.
	WarmUp      float64
	WarmUpTimes int
}

// driftOf gives the drift of a comb, and its spacing once settled, or late in its spans where it never was.
// The slope is the median of those between any two epochs of one settled part [Sen:1968], and
// known where its 95 % interval is no wider than what warming does.
func driftOf(l *readlog.Log, s *Source) (d Drift, spacing float64) {
	own := s.Fundamental()
	parts, late, straight := settledParts(s, own)
	var slopes []float64
	var variance float64 // of Kendall's sum, that of each part added up
	for _, part := range parts {
		some, n := slopesOf(part)
		slopes = append(slopes, some...)
		variance += n * (n - 1) * (2*n + 5) / 18
	}
	slices.Sort(slopes)
	switch {
	case len(parts) > 0:
		own = slices.Concat(parts...)
	case len(late) >= spacingsFew:
		own = late
	}
	spacing = stats.Median(own.Spacings())
	half := stats.Normal95 * math.Sqrt(variance) / 2 / float64(len(slopes)) // NaN of none
	low, high := stats.Quantile(slopes, max(0, 0.5-half)), stats.Quantile(slopes, min(1, 0.5+half))
	d = Drift{Slope: stats.Quantile(slopes, 0.5), Known: half < 0.5 && (high-low)/2 <= driftKnown*spacing, Straight: straight}
	d.WarmUp, d.WarmUpTimes = warmUp(l, s, spacing)
	return d, spacing
}

// slopesOf gives the slopes between any two epochs, Hz an hour, and of how many: those of more
// than a hundred are hardly surer.
func slopesOf(t track.Track) (slopes []float64, n float64) {
	step := (len(t) + 99) / 100
	for i := 0; i < len(t); i += step {
		n++
		for k := 0; k < i; k += step {
			if hours := t[i].At.Sub(t[k].At).Hours(); hours > 0 {
				slopes = append(slopes, (t[i].Spacing-t[k].Spacing)/hours)
			}
		}
	}
	return slopes, n
}

// settledParts gives the parts of spans in which the spacing had settled, an hour after the
// source came on or later, and what was detected in the later halves of all. Where there is none,
// straight tells of spans that ran straight from their beginning on.
func settledParts(s *Source, own track.Track) (parts []track.Track, late track.Track, straight bool) {
	var brief []track.Track
	for _, p := range s.Spans {
		var all track.Track
		for i := 0; i < len(own) && !own[i].At.After(p.Last); i++ {
			if own[i].Survey != p.Survey || !p.Holds(own[i].First) {
				continue
			}
			if len(all) == 0 { // what is before it is in no later span
				own, i = own[i:], 0
			}
			all = append(all, own[i])
		}
		late = append(late, all.Since(p.Middle())...)
		if part := settled(all.Since(p.First.Add(time.Hour))); part != nil {
			parts = append(parts, part)
		} else if len(all) >= settledFew && all.Duration() >= straightLeast && isStraight(all) {
			brief = append(brief, all)
		}
	}
	if len(parts) == 0 {
		return brief, late, len(brief) > 0
	}
	return parts, late, false
}

// settled gives the part of a track from which on it runs straight; nil where under an hour
// of it is left.
func settled(t track.Track) track.Track {
	for len(t) >= settledFew && t.Duration() >= settledLeast {
		if isStraight(t) {
			return t
		}
		t = t.Since(t[0].At.Add(t.Duration()/4 + 1))
	}
	return nil
}

// isStraight tells whether both halves of a track lead to the same slope, to twice what its
// scatter does to their difference: the slope of n points that scatter by σ over a time T is
// known to σ·√(12/n)/T.
func isStraight(t track.Track) bool {
	half := len(t) - len(t.Since(t[0].At.Add(t.Duration()/2)))
	if half < 2 || len(t)-half < 2 {
		return false
	}
	a, _ := slopesOf(t[:half])
	b, _ := slopesOf(t[half:])
	bend := math.Abs(stats.Median(a)-stats.Median(b)) * t.Duration().Hours() / 2
	return bend <= max(settledBend*t[len(t)-1].Spacing, 2*scatterOf(t.Spacings())*math.Sqrt(24/float64(min(half, len(t)-half))))
}

// scatterOf gives by how much values scatter about what their neighbours in a row are: a change from
// one to the next scatters by √2 of that.
func scatterOf(rows ...[]float64) float64 {
	var changes []float64
	for _, row := range rows {
		for i := 1; i < len(row); i++ {
			changes = append(changes, row[i]-row[i-1])
		}
	}
	return stats.Spread(changes) / math.Sqrt2
}

// warmUp gives how far over its settled spacing a source began, and how often that was seen.
func warmUp(l *readlog.Log, s *Source, spacing float64) (share float64, times int) {
	on, _ := s.Edges(l.Longest)
	began := map[int64]float64{} // spacings by when they were first found, ns
	for _, d := range slices.Backward(s.Fundamental()) {
		began[d.First.UnixNano()] = d.Spacing
	}
	var all []float64
	for _, e := range presence.Once(on, l.Usual) {
		if first, ok := began[e.Seen.UnixNano()]; ok && e.Seen.Sub(e.Unseen) <= warmUpSeen {
			all = append(all, first/spacing-1)
		}
	}
	return stats.Median(all), len(all)
}
