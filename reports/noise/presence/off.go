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
	// usualSigmas is by how many standard errors a comb's usual power must show through a setup
	// segment for its lack to show there.
	usualSigmas = 6.0
	// A comb is off where the share of its usual power that is measured lies under offShare by
	// offSigmas standard errors.
	offShare, offSigmas = 0.25, 4.0
	// restartJump is by how much, as a share, a spacing that was steady jumps up where the supply
	// was switched off and on. The detections beside it that must bear it out are restartApart
	// from it or more: those of one visit share their errors.
	restartJump  = 1e-4
	restartApart = 2 * time.Minute
)

// Epochs at which a comb was measured to be off, by survey, in order of time.
type offEpochs map[int64][]offEpoch

type offEpoch struct {
	track.Epoch
	round int
}

// since gives those of a survey at an instant or after it.
func (o offEpochs) since(id int64, t time.Time) []offEpoch {
	n, _ := slices.BinarySearchFunc(o[id], t, func(e offEpoch, t time.Time) int { return e.At.Compare(t) })
	return o[id][n:]
}

// between tells whether the comb was off between two instants of a survey.
func (o offEpochs) between(id int64, from, to time.Time) bool {
	rest := o.since(id, from.Add(1))
	return len(rest) > 0 && rest[0].At.Before(to)
}

// before gives the last of a survey that is not after an instant, and after the first that is
// not before it; zero for none.
func (o offEpochs) before(id int64, t time.Time) (at time.Time) {
	if n := len(o[id]) - len(o.since(id, t.Add(1))); n > 0 {
		at = o[id][n-1].At
	}
	return at
}

func (o offEpochs) after(id int64, t time.Time) (at time.Time) {
	if rest := o.since(id, t); len(rest) > 0 {
		at = rest[0].At
	}
	return at
}

// measuredOff gives the epochs at which a comb was measured by force, through setup segments
// that are sensitive to it, and a small part of its usual power was found.
func measuredOff(l *readlog.Log, t track.Track, measured []*survey.Finding, sensitive []bool) offEpochs {
	if t.Kind() != survey.FindingComb {
		return nil
	}
	usual, detected := usualPowers(l, t), map[track.Epoch]bool{}
	for i := range t {
		detected[t[i].Epoch] = true
	}
	type sum struct {
		offEpoch
		product, square float64 // of power and usual power, and of usual powers, each over σ²
	}
	var all []sum
	for i, f := range measured {
		r := &l.Readings[i]
		if f == nil || f.Detected() || !sensitive[r.SetupSegment] || !(f.Sigma > 0) || !stats.Finite(f.Power) || r.Quality.Has(survey.FlagSetupDoubt) {
			continue
		}
		u, ok := usual[r.SetupSegment].at(r.Gain)
		epoch := track.EpochOf(l, r, survey.FindingComb)
		if !ok || u < usualSigmas*f.Sigma || detected[epoch] {
			continue
		}
		if n := len(all); n == 0 || all[n-1].Epoch != epoch {
			all = append(all, sum{offEpoch: offEpoch{epoch, r.Round}})
		}
		x := &all[len(all)-1]
		x.product += f.Power / f.Sigma * u / f.Sigma
		x.square += u / f.Sigma * u / f.Sigma
	}
	offs := offEpochs{}
	for _, x := range all {
		// The share of the usual power that fits all readings best, and its standard error.
		if share, sigma := x.product/x.square, 1/math.Sqrt(x.square); share+offSigmas*sigma < offShare {
			offs[x.Survey] = append(offs[x.Survey], x.offEpoch)
		}
	}
	for _, own := range offs {
		slices.SortStableFunc(own, func(a, b offEpoch) int { return a.At.Compare(b.At) })
	}
	return offs
}

// A usualPower is what a comb's lines have through one setup segment while it is detected, at a gain.
type usualPower struct {
	power float64
	gain  survey.Gain
}

// at gives it at another gain; ok is false where it is not known.
func (u usualPower) at(gain survey.Gain) (power float64, ok bool) {
	lower, ok := input.Refer(u.gain, gain)
	return u.power * stats.FromDecibel(-float64(lower)), ok && u.power > 0
}

// usualPowers gives by setup segment the median power of a comb where it was detected.
func usualPowers(l *readlog.Log, t track.Track) []usualPower {
	powers, out := make([][]float64, len(l.SetupSegments)), make([]usualPower, len(l.SetupSegments))
	for _, f := range t.Findings() {
		r := &l.Readings[f.Reading]
		own := &powers[r.SetupSegment]
		if len(*own) == 0 {
			out[r.SetupSegment].gain = r.Gain
		}
		if lower, ok := input.Refer(r.Gain, out[r.SetupSegment].gain); ok && stats.Finite(f.Power) {
			*own = append(*own, f.Power*stats.FromDecibel(-float64(lower)))
		}
	}
	for k, all := range powers {
		out[k].power = stats.Median(all)
	}
	return out
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
