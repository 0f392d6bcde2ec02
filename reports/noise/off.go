package noise

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// That a comb was off between two detections shows in what was measured by force, and in
// its spacing, which begins anew.

const (
	// offOver is over how many times its standard error a comb's usual power must stand
	// through a setup segment that hears it well.
	offOver = 6.0
	// offShare is under what share of the usual power a source is off, by offSure standard
	// errors.
	offShare, offSure = 0.25, 4.0
	// restart is by how much, as a share, a spacing that was steady jumps up where the supply
	// was switched off and on. The detections beside it that must bear it out are apart by
	// soon at the least: those of one visit share their errors.
	restart = 1e-4
	soon    = 2 * time.Minute
)

// An offEpoch is one at which a source was heard to be off.
type offEpoch struct {
	epoch
	round int
}

// heardOff gives the epochs at which setup segments that hear a comb well measured it by force and
// found a small part of its usual power, by survey, in order of time.
func (l *noiseLog) heardOff(s *noiseSource) map[int64][]offEpoch {
	if s.kind != survey.FindingComb {
		return nil
	}
	usual, found := l.usualPowers(s), map[epoch]bool{}
	for _, o := range s.obs {
		found[o.epoch] = true
	}
	type sum struct {
		offEpoch
		product, square float64 // of power and usual power, and of usual powers, each over σ²
	}
	var all []sum
	for i := range l.Readings {
		h, f := &l.Readings[i], s.measured[i]
		if f == nil || f.Detected() || !s.keen[h.SetupSegment] || !(f.Sigma > 0) || !stats.Finite(f.Power) || h.Quality.Has(survey.FlagSetupDoubt) {
			continue
		}
		u, ok := usual[h.SetupSegment].at(h.Gain)
		m := l.epochOf(h, true)
		if !ok || u < offOver*f.Sigma || found[m] {
			continue
		}
		if n := len(all); n == 0 || all[n-1].epoch != m {
			all = append(all, sum{offEpoch: offEpoch{m, h.Round}})
		}
		x := &all[len(all)-1]
		x.product += f.Power / f.Sigma * u / f.Sigma
		x.square += u / f.Sigma * u / f.Sigma
	}
	offs := map[int64][]offEpoch{}
	for _, x := range all {
		// The share of the usual power that fits all readings best, and its standard error.
		if share, sigma := x.product/x.square, 1/math.Sqrt(x.square); share+offSure*sigma < offShare {
			offs[x.survey] = append(offs[x.survey], x.offEpoch)
		}
	}
	for _, own := range offs {
		slices.SortStableFunc(own, func(a, b offEpoch) int { return a.at.Compare(b.at) })
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
func (l *noiseLog) usualPowers(s *noiseSource) []usualPower {
	powers, out := make([][]float64, len(l.SetupSegments)), make([]usualPower, len(l.SetupSegments))
	for g := range s.findings() {
		h := &l.Readings[g.reading]
		if len(powers[h.SetupSegment]) == 0 {
			out[h.SetupSegment].gain = h.Gain
		}
		if lower, ok := input.Refer(h.Gain, out[h.SetupSegment].gain); ok && stats.Finite(g.Power) {
			powers[h.SetupSegment] = append(powers[h.SetupSegment], g.Power*stats.FromDecibel(-float64(lower)))
		}
	}
	for e, all := range powers {
		out[e].power = stats.Median(all)
	}
	return out
}

// offBetween tells whether the source was heard to be off between two instants of a survey.
func (p *presence) offBetween(id int64, from, to time.Time) bool {
	offs := p.offs[id]
	n, _ := slices.BinarySearchFunc(offs, from, func(o offEpoch, t time.Time) int { return cmp.Or(o.at.Compare(t), -1) }) // the first after it
	return n < len(offs) && offs[n].at.Before(to)
}

// restarts tells of each detection of a comb whether the spacing begins anew with it: it was
// steady, jumps up, and falls again. One that only climbs warms up from below.
func (s *noiseSource) restarts() []bool {
	anew := make([]bool, len(s.obs))
	if s.kind != survey.FindingComb {
		return anew
	}
	var own []int
	for i, o := range s.obs {
		if !o.harmonicAlias {
			own = append(own, i)
		}
	}
	for k := 1; k < len(own); k++ {
		a, b := &s.obs[own[k-1]], &s.obs[own[k]]
		before, after := s.apart(own[:k], a.at.Add(-soon), -1), s.apart(own[k:], b.at.Add(soon), 1)
		if a.survey != b.survey || before == nil || after == nil || before.survey != a.survey || after.survey != a.survey {
			continue
		}
		base := max(a.spacing, before.spacing)
		anew[own[k]] = b.spacing > base*(1+restart) && after.spacing > base*(1+restart/4) && after.spacing < b.spacing &&
			a.spacing < before.spacing*(1+restart/2)
	}
	return anew
}

// apart gives the detection nearest to an instant of some, before it or after it; nil: none.
func (s *noiseSource) apart(some []int, at time.Time, step int) *detection {
	for k := range some {
		if step < 0 {
			k = len(some) - 1 - k
		}
		if o := &s.obs[some[k]]; o.at.Sub(at)*time.Duration(step) >= 0 {
			return o
		}
	}
	return nil
}
