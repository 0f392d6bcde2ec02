package presence

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// That a comb was off between two detections shows in what was measured by force, and in
// its spacing, which begins anew (STATISTICS.md 8.2).
const (
	// The lack of a comb shows through a setup segment where its usual power is usualSigmas standard
	// errors; TestMeasuredOff.
	usualSigmas = 6.0
	// A comb is off where the share of its usual power that is measured lies under offShare by
	// offSigmas standard errors; TestMeasuredOff.
	offShare, offSigmas = 0.25, 4.0
	// Where a supply was switched off and on, a spacing that was steady jumps up by restartJump, as a
	// share, or more; TestJumpOfARestart. The detections beside it that must bear it out are
	// restartApart from it or more, since those of one visit share their errors; TestDetectionsBesideARestart.
	restartJump  = 1e-4
	restartApart = 2 * time.Minute
)

// measuredOff gives by survey, in order of time, the epochs at which a comb was measured by force
// through setup segments that are sensitive to it, and a small part of its usual power was found;
// and the rounds that hold them.
func measuredOff(l *readlog.Log, t track.Track, measured []*survey.Finding, sensitive []bool) (off map[int64][]time.Time, rounds []int) {
	if t.Kind() != survey.FindingComb {
		return nil, nil
	}
	usual, gains := usualPowers(l, t)
	detected := map[track.Epoch]bool{}
	for i := range t {
		detected[t[i].Epoch] = true
	}
	type sum struct {
		track.Epoch
		round           int
		product, square float64 // of power and usual power, and of usual powers, each over σ²
	}
	var all []sum
	for i, f := range measured {
		r := &l.Readings[i]
		if f == nil || f.Detected() || !sensitive[r.SetupSegment] || !(f.Sigma > 0) || !stats.Finite(f.Power) || r.Quality.Has(survey.FlagSetupDoubt) {
			continue
		}
		lower, ok := input.Refer(gains[r.SetupSegment], r.Gain)
		u := usual[r.SetupSegment] * stats.FromDecibel(-float64(lower)) / f.Sigma
		epoch := track.EpochOf(l, r, survey.FindingComb)
		if !ok || !(u >= usualSigmas) || detected[epoch] {
			continue
		}
		if n := len(all); n == 0 || all[n-1].Epoch != epoch {
			all = append(all, sum{Epoch: epoch, round: r.Round})
		}
		x := &all[len(all)-1]
		x.product += f.Power / f.Sigma * u
		x.square += u * u
	}
	off = map[int64][]time.Time{}
	for _, x := range all {
		// The share of the usual power that fits all readings best, and its standard error.
		if share, sigma := x.product/x.square, 1/math.Sqrt(x.square); share+offSigmas*sigma < offShare {
			off[x.Survey], rounds = append(off[x.Survey], x.At), append(rounds, x.round)
		}
	}
	for _, own := range off {
		slices.SortFunc(own, time.Time.Compare)
	}
	return off, rounds
}

// usualPowers gives by setup segment the median power of a comb's lines where it was detected, and
// the gain at which they have it.
func usualPowers(l *readlog.Log, t track.Track) (usual []float64, gains []survey.Gain) {
	powers := make([][]float64, len(l.SetupSegments))
	gains = make([]survey.Gain, len(powers))
	for f := range t.Findings() {
		r := &l.Readings[f.Reading]
		k := r.SetupSegment
		if len(powers[k]) == 0 {
			gains[k] = r.Gain
		}
		if lower, ok := input.Refer(r.Gain, gains[k]); ok && stats.Finite(f.Power) {
			powers[k] = append(powers[k], f.Power*stats.FromDecibel(-float64(lower)))
		}
	}
	for _, own := range powers {
		usual = append(usual, stats.Median(own))
	}
	return usual, gains
}

// restarts tells of the epochs at which the spacing of a comb begins anew: it was steady, jumps
// up, and falls again. One that only climbs warms up from below.
func restarts(t track.Track) map[track.Epoch]bool {
	anew := map[track.Epoch]bool{}
	if t.Kind() != survey.FindingComb {
		return anew
	}
	t = t.Fundamental()
	for k := 1; k < len(t); k++ {
		before, after := k-1, k
		for before >= 0 && t[k-1].At.Sub(t[before].At) < restartApart {
			before--
		}
		for after < len(t) && t[after].At.Sub(t[k].At) < restartApart {
			after++
		}
		if before < 0 || after == len(t) || t[before].Survey != t[after].Survey || t[k-1].Survey != t[k].Survey || t[before].Survey != t[k].Survey {
			continue
		}
		last, jumped, settling := t[k-1].Spacing, t[k].Spacing, t[after].Spacing
		base := max(last, t[before].Spacing)
		anew[t[k].Epoch] = jumped > base*(1+restartJump) && settling > base*(1+restartJump/4) && settling < jumped &&
			last < t[before].Spacing*(1+restartJump/2)
	}
	return anew
}
