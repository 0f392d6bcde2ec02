package track

import (
	"math"
	"slices"
	"time"

	gonumstat "gonum.org/v1/gonum/stat"

	"nightfloor/dsp/stat"
	"nightfloor/reports/readlog"
	"nightfloor/survey"
)

// A supply that warms up drifts by some 0.1 %, exponentially and within an hour (PHYSICS.md
// 8.1), so that a track follows it from epoch to epoch with little freedom. All values are
// shares of the spacing unless said otherwise; STATISTICS.md 7.3 tells how they were chosen.
const (
	// Two combs whose spacings are within spacingResolution are found as one; TestFindingsToldApart.
	spacingResolution = 1e-4
	// A spacing may be off from where it was last by trackTolerance, an error of both, and by
	// trackDrift an hour, what warming changes at its fastest; by trackToleranceMost in all;
	// TestHowFarATrackFollows.
	trackTolerance, trackDrift, trackToleranceMost = 2e-4, 2e-3, 6e-4
	// The slope of a track is taken from slopeFew to slopeMost detections, and is trusted for
	// slopeHolds times as long as they last: of four that scatter by σ, what is due is then wrong
	// by 3·σ·√(12/4); TestWhatIsDue, TestSpacingsThatCross.
	slopeFew, slopeMost, slopeHolds = 4, 20, 3
)

// Combs gives the tracks of combs, the one with the most evidence first.
func Combs(l *readlog.Log) []Track {
	return joinAliases(joinTracks(l, follow(l, detect(l, survey.FindingComb))))
}

// tolerance gives how far a track's spacing may be from where it was some time ago.
func tolerance(since time.Duration) float64 {
	return min(trackToleranceMost, trackTolerance+trackDrift*math.Abs(since.Hours()))
}

// follow makes tracks of detections in order of time. Those of one epoch go to different
// tracks, the nearest to what is due first. A track ends where for longer than l.Longest nothing
// was found of it by itself.
func follow(l *readlog.Log, detections Track) (tracks []Track) {
	var live []int
	for len(detections) > 0 {
		n := 1
		for n < len(detections) && detections[n].Epoch == detections[0].Epoch {
			n++
		}
		now, at := detections[:n], detections[0].At
		detections = detections[n:]
		live = slices.DeleteFunc(live, func(t int) bool { return at.Sub(tracks[t].lastByItself().At) > l.Longest })
		due := make([]float64, len(live))
		for k, t := range live {
			due[k] = tracks[t].due(at)
		}
		trackOf := stat.NearestPairs(n, len(live), func(i, k int) float64 {
			last, d := tracks[live[k]].last(), RelativeDifference(due[k], now[i].Spacing)
			if min(d, RelativeDifference(last.Spacing, now[i].Spacing)) > tolerance(at.Sub(last.At)) {
				return math.Inf(1)
			}
			return d
		})
		before := live
		for i, k := range trackOf {
			if k < 0 {
				live, tracks = append(live, len(tracks)), append(tracks, Track{now[i]})
				continue
			}
			tracks[live[k]] = append(tracks[live[k]], now[i])
		}
		share(l, tracks, before, due, trackOf)
	}
	for n, t := range tracks {
		for t.last().copied { // the first never is
			t = t[:len(t)-1]
		}
		tracks[n] = t
	}
	return tracks
}

// share copies a detection of a live track that was found to one that was not found now, but was
// a round or two ago, where the two are due so near each other that they are found as one.
func share(l *readlog.Log, tracks []Track, live []int, due []float64, found []int) {
	for k, n := range live {
		if slices.Contains(found, k) || len(tracks[n]) < slopeFew {
			continue
		}
		for other, m := range live {
			d := tracks[m].last()
			if slices.Contains(found, other) && d.At.Sub(tracks[n].last().At) <= 2*l.Usual &&
				RelativeDifference(due[other], due[k]) <= spacingResolution && RelativeDifference(d.Spacing, due[k]) <= spacingResolution {
				d.shared = true
				own := *d
				own.Spacing, own.copied = due[k], true
				tracks[n] = append(tracks[n], own)
				break
			}
		}
	}
}

// due gives the spacing that is due at an instant after the last detection, on the line of
// least squares through the recent ones that the track does not share, those of an hour and no
// more than a line needs; of fewer than slopeFew the last spacing.
func (t Track) due(at time.Time) float64 {
	end := t.lastByItself().At
	hours, spacings := make([]float64, 0, slopeMost), make([]float64, 0, slopeMost)
	for i := len(t) - 1; i >= 0 && len(hours) < slopeMost && end.Sub(t[i].At) <= time.Hour; i-- {
		if !t[i].shared {
			hours, spacings = append(hours, t[i].At.Sub(end).Hours()), append(spacings, t[i].Spacing)
		}
	}
	lasts := -hours[len(hours)-1]
	if len(hours) < slopeFew || lasts == 0 {
		return t.last().Spacing
	}
	spacing, slope := gonumstat.LinearRegression(hours, spacings, nil, false)
	return spacing + slope*min(at.Sub(end).Hours(), slopeHolds*lasts)
}

// lastByItself gives the last detection that the track does not share; it never shares the first.
func (t Track) lastByItself() *Detection {
	i := len(t) - 1
	for t[i].shared {
		i--
	}
	return &t[i]
}
