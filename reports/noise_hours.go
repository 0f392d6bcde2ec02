package reports

import (
	"math"
	"slices"
	"time"
)

const (
	// keenEar is in what share of the readings of rounds with the source an ear must have
	// detected it for its silence to mean that the source is off.
	keenEar = 0.25
	// bridged is over how many standard errors what was measured by force in a round must
	// stand for the source to have been on between detections.
	bridged = 4
)

// A presence is when a source was there.
type presence struct {
	on       []bool      // by round
	listened []bool      // by round: something measured that can hear it
	spans    []spanRound // in which it was on
	keen     map[int]bool
}

// A spanRound is from one detection to another, and in which rounds they fell.
type spanRound struct {
	span
	from, to int // rounds, both included
}

// place finds the rounds and hours of a source. Masked says of rounds that they cannot
// tell; nil: none.
func (l *noiseLog) place(s *noiseSource, masked func(round int) bool) {
	detected := make([]bool, len(l.rounds))
	first, last := make([]time.Time, len(l.rounds)), make([]time.Time, len(l.rounds))
	for _, o := range s.obs {
		for _, g := range o.sighting {
			h := &l.readings[g.reading]
			n := h.round
			if !detected[n] || h.Start.Before(first[n]) {
				first[n] = h.Start
			}
			if !detected[n] || h.end().After(last[n]) {
				last[n] = h.end()
			}
			detected[n] = true
		}
	}
	s.keen = l.keenEars(s, detected)
	s.on, s.listened = make([]bool, len(l.rounds)), make([]bool, len(l.rounds))
	for i := range l.readings {
		if h := &l.readings[i]; s.keen[h.ear] && (masked == nil || !masked(h.round)) {
			s.listened[h.round] = true
		}
	}
	felt := l.felt(s)
	s.spans = nil
	silent := 0
	for n := range l.rounds {
		switch {
		case detected[n]:
			at := len(s.spans) - 1
			if at < 0 || silent > 1 || !l.joins(n, s.spans[at], first[n]) {
				s.spans = append(s.spans, spanRound{span{first[n], last[n]}, n, n})
			} else {
				s.spans[at].last, s.spans[at].to = last[n], n
			}
			silent = 0
			s.listened[n] = true
		case s.listened[n] && !felt[n]:
			silent++
		}
	}
	for _, p := range s.spans {
		for n := p.from; n <= p.to; n++ {
			s.on[n] = true
		}
	}
}

// joins tells whether detections of two rounds may be of one stretch of time: they are of
// one survey, and not longer apart than a source may go unheard.
func (l *noiseLog) joins(n int, p spanRound, at time.Time) bool {
	return l.rounds[n].key.survey == l.rounds[p.to].key.survey && at.Sub(p.last) <= l.longest
}

// keenEars are those through which the source is detected often enough while it is on.
func (l *noiseLog) keenEars(s *noiseSource, detected []bool) map[int]bool {
	heard, all := make([]int, len(l.ears)), make([]int, len(l.ears))
	for i := range l.readings {
		if h := &l.readings[i]; detected[h.round] {
			all[h.ear]++
		}
	}
	for _, o := range s.obs {
		for _, g := range o.sighting {
			heard[l.readings[g.reading].ear]++
		}
	}
	best, keen := 0.0, map[int]bool{}
	share := func(e int) float64 { return float64(heard[e]) / float64(max(1, all[e])) }
	for e := range l.ears {
		best = max(best, share(e))
	}
	for e := range l.ears {
		if heard[e] > 0 && share(e) >= min(keenEar, best) {
			keen[e] = true
		}
	}
	return keen
}

// felt tells of each round whether what was measured by force in it shows the source:
// over so many standard errors, all readings taken together.
func (l *noiseLog) felt(s *noiseSource) []bool {
	sum, count := make([]float64, len(l.rounds)), make([]float64, len(l.rounds))
	for i, f := range s.measured {
		if f.Sigma > 0 && finite(f.Power) && finite(f.Sigma) {
			n := l.readings[i].round
			sum[n] += f.Power / f.Sigma
			count[n]++
		}
	}
	felt := make([]bool, len(l.rounds))
	for n := range felt {
		felt[n] = count[n] > 0 && sum[n] > bridged*math.Sqrt(count[n])
	}
	return felt
}

// at tells whether the source was on at an instant, to what its hours tell.
func (p *presence) at(t time.Time) bool {
	i, _ := slices.BinarySearchFunc(p.spans, t, func(s spanRound, t time.Time) int { return s.last.Compare(t) })
	return i < len(p.spans) && !t.Before(p.spans[i].first)
}

// share gives the share of the rounds that listened in which the source was on.
func (p *presence) share() float64 {
	on, all := 0, 0
	for n, listened := range p.listened {
		if listened {
			all++
			if p.on[n] {
				on++
			}
		}
	}
	return float64(on) / float64(max(1, all))
}

// An edge is a source's coming on or going off: it happened between the detection seen
// and the time unseen at which something listened and did not hear it.
type edge struct {
	survey       int64
	seen, unseen time.Time
}

func (e edge) middle() time.Time { return e.seen.Add(e.unseen.Sub(e.seen) / 2) }

// edges gives when the source came on and went off, where something listened shortly
// before or after it.
func (l *noiseLog) edges(s *noiseSource) (on, off []edge) {
	for _, p := range s.spans {
		id := l.rounds[p.from].key.survey
		if n := l.listenedBeside(s, p.from, -1); n >= 0 {
			_, last := l.listening(s, n)
			if p.first.Sub(last) <= l.longest {
				on = append(on, edge{id, p.first, last})
			}
		}
		if n := l.listenedBeside(s, p.to, 1); n >= 0 {
			first, _ := l.listening(s, n)
			if first.Sub(p.last) <= l.longest {
				off = append(off, edge{id, p.last, first})
			}
		}
	}
	return on, off
}

// listenedBeside gives the next round of the same survey that listened, −1 for none.
func (l *noiseLog) listenedBeside(s *noiseSource, n, step int) int {
	for m := n + step; m >= 0 && m < len(l.rounds) && l.rounds[m].key.survey == l.rounds[n].key.survey; m += step {
		if s.listened[m] {
			return m
		}
	}
	return -1
}

// listening gives from when to when an ear that hears the source listened in a round.
func (l *noiseLog) listening(s *noiseSource, n int) (first, last time.Time) {
	for _, i := range l.byRound[n] {
		h := &l.readings[i]
		if !s.keen[h.ear] {
			continue
		}
		if first.IsZero() {
			first = h.Start
		}
		last = h.end()
	}
	return first, last
}

// drift gives the slope of the spacing over time once the supply is warm, Hz an hour: the
// median of the slopes between any two moments of one stretch of time [Sen]. Ok is false
// where its 95 % interval is wider than what warming does. Spacing is the median once
// warm.
//
//	[Sen] P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau",
//	Journal of the American Statistical Association 63 (1968), section 4.
func (l *noiseLog) drift(s *noiseSource) (slope, spacing float64, ok bool) {
	parts, spacings := l.warm(s)
	step := 1 // the slopes of all pairs of more than a hundred are hardly surer
	for _, part := range parts {
		step = max(step, (len(part)+99)/100)
	}
	var slopes []float64
	var variance float64 // of Kendall's sum, that of each stretch added up
	for _, part := range parts {
		n := 0.0
		for i := 0; i < len(part); i += step {
			n++
			for k := 0; k < i; k += step {
				if hours := part[i].at.Sub(part[k].at).Hours(); hours > 0 {
					slopes = append(slopes, (part[i].spacing-part[k].spacing)/hours)
				}
			}
		}
		variance += n * (n - 1) * (2*n + 5) / 18
	}
	slices.Sort(spacings)
	slices.Sort(slopes)
	spacing = Quantile(spacings, 0.5)
	if len(slopes) == 0 {
		return 0, spacing, false
	}
	half := normal95 * math.Sqrt(variance) / 2 / float64(len(slopes))
	low, high := Quantile(slopes, max(0, 0.5-half)), Quantile(slopes, min(1, 0.5+half))
	return Quantile(slopes, 0.5), spacing, half < 0.5 && (high-low)/2 <= driftKnown*spacing
}

// warm gives the stretches of time in which the source had warmed up, an hour or half of
// the stretch after it came on, and all spacings found then; those of any time where that
// are too few.
func (l *noiseLog) warm(s *noiseSource) (parts []course, spacings []float64) {
	var whole []float64
	at := 0
	for _, p := range s.spans {
		warm := p.first.Add(min(time.Hour, p.last.Sub(p.first)/2))
		var part course
		for at < len(s.obs) && l.roundOf(&s.obs[at]) <= p.to {
			if o := s.obs[at]; !o.kin {
				whole = append(whole, o.spacing)
				if !o.at.Before(warm) {
					part = append(part, o)
					spacings = append(spacings, o.spacing)
				}
			}
			at++
		}
		if len(part) >= 4 && part.long() >= 20*time.Minute {
			parts = append(parts, part)
		}
	}
	if len(spacings) < 4 {
		spacings = whole
	}
	return parts, spacings
}

// driftKnown is how well a drift must be known to be told, as a share of the spacing an
// hour: a tenth of what a supply does in its first.
const driftKnown = 1e-4

// warmUp gives by how much the spacing stood over what it is once warm when the source had
// just come on, as a share of it: the median over the times it was seen to within 20
// minutes.
func (l *noiseLog) warmUp(s *noiseSource) (share float64, times int) {
	on, _ := l.edges(s)
	var all []float64
	for _, e := range on {
		i := slices.IndexFunc(s.obs, func(o witness) bool {
			return !o.kin && l.readings[o.sighting[0].reading].Start.Equal(e.seen)
		})
		if i >= 0 && e.seen.Sub(e.unseen) <= 20*time.Minute {
			all = append(all, s.obs[i].spacing/s.spacing-1)
		}
	}
	slices.Sort(all)
	return Quantile(all, 0.5), len(all)
}
