package noise

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

// Single clicks come by chance: that none was heard for a while tells of nothing but their
// rate, unless many were due. Of a Poisson process none comes where 12 are due once in
// 160,000 times.
const clicksDue = 12.0

// single tells whether the source is of impulses that come one by one.
func (s *noiseSource) single() bool {
	return s.kind == survey.FindingImpulses && pulseClass(s.obs[0].found[0].Finding) == clicks
}

// A listening is one epoch at which an antenna listened, and the pulses counted in it.
type listening struct {
	input.Span
	survey int64
	round  int
	pulses float64
}

// listenings gives them in order of time: of all setups but those that are controls, those
// that heard nothing too. Half a second with one click in it says nothing of the rate, nor do
// the setup segments that happened to hear the most. Readings that share a tuning share their pulses.
func (l *noiseLog) listenings(s *noiseSource) (all []listening) {
	deaf, last := l.deafTo(s), map[int64]int{} // by survey
	for i := range l.Readings {
		h := &l.Readings[i]
		if deaf[h.SetupSegment] {
			continue
		}
		m := l.epochOf(h, false)
		at, known := last[m.survey]
		if !known || !all[at].First.Equal(h.Start) {
			at = len(all)
			last[m.survey] = at
			all = append(all, listening{Span: input.SpanOf(h.Reading), survey: m.survey, round: h.Round})
		}
		if f := s.measured[i]; f != nil {
			all[at].pulses = max(all[at].pulses, math.Round(float64(f.Rate)*h.Duration.Seconds()))
		}
	}
	return all
}

// deafTo gives the setup segments that cannot hear impulses: controls, and those that heard none where
// so many were due that it is no chance. Rows of pulses are due always.
func (l *noiseLog) deafTo(s *noiseSource) (deaf []bool) {
	controls := l.In.Controls()
	antenna := false
	for g := range s.findings() {
		antenna = antenna || !controls[l.Readings[g.reading].Sweep.Setup]
	}
	if !antenna {
		controls = nil // heard through nothing else
	}
	deaf = make([]bool, len(l.SetupSegments))
	pulses, seconds := make([]float64, len(l.SetupSegments)), make([]float64, len(l.SetupSegments))
	sum, whole := 0.0, 0.0
	for i := range l.Readings {
		h := &l.Readings[i]
		if deaf[h.SetupSegment] = controls[h.Sweep.Setup]; deaf[h.SetupSegment] {
			continue
		}
		n, long := 0.0, h.Duration.Seconds()
		if f := s.measured[i]; f != nil {
			n = float64(f.Rate) * long
		}
		pulses[h.SetupSegment], seconds[h.SetupSegment] = pulses[h.SetupSegment]+n, seconds[h.SetupSegment]+long
		sum, whole = sum+n, whole+long
	}
	for e := range deaf {
		deaf[e] = deaf[e] || pulses[e] == 0 && (!s.single() || sum/whole*seconds[e] > clicksDue)
	}
	return deaf
}

func (x *listening) seconds() float64 { return x.Last.Sub(x.First).Seconds() }

// placeClicks finds the hours of clicks. They end only where so many were due that their
// silence is no chance; rounds at the beginning and the end of a survey in which fewer were
// due cannot tell.
func (l *noiseLog) placeClicks(s *noiseSource) {
	s.spans, s.switched, s.sparse = nil, false, true
	heard := map[int64][]listening{}
	for _, x := range l.listenings(s) {
		heard[x.survey] = append(heard[x.survey], x)
	}
	for id := range l.Recorded {
		own := heard[id]
		first := slices.IndexFunc(own, func(x listening) bool { return x.pulses > 0 })
		if first < 0 {
			continue
		}
		last := first
		for i, x := range own {
			if x.pulses > 0 {
				last = i
			}
		}
		l.stringClicks(s, own, first, last)
	}
	slices.SortStableFunc(s.spans, func(a, b spanRound) int { return cmp.Or(a.First.Compare(b.First), cmp.Compare(a.survey, b.survey)) })
}

// stringClicks makes stretches of time of the clicks of one survey, which were heard from
// one listening to another. Where a silence parts them the rate in what is left is higher,
// so that more may part.
func (l *noiseLog) stringClicks(s *noiseSource, own []listening, first, last int) {
	parts := [][2]int{{first, last}}
	for more := true; more; {
		more = false
		rate := clickRate(own, parts)
		var next [][2]int
		for _, p := range parts {
			from := p[0]
			for i, j := p[0], p[0]+1; j <= p[1]; j++ {
				if own[j].pulses == 0 {
					continue
				}
				if rate*secondsOf(own[i+1:j]) > clicksDue || l.unlistened(own[i:j+1]) {
					next, from, more = append(next, [2]int{from, i}), j, true
				}
				i = j
			}
			next = append(next, [2]int{from, p[1]})
		}
		parts = next
	}
	s.switched = s.switched || len(parts) > 1
	rate := clickRate(own, parts)
	for _, p := range parts {
		r := spanRound{Span: input.Span{First: own[p[0]].First, Last: own[p[1]].Last}, survey: own[0].survey, from: own[p[0]].round, to: own[p[1]].round}
		r.before, r.after = silentBefore(own[:p[0]], rate), silentAfter(own[p[1]+1:], rate)
		s.spans = append(s.spans, r)
	}
	if rate*secondsOf(own[:first]) <= clicksDue {
		l.leave(s, own[:first], own[first].round)
	}
	if rate*secondsOf(own[last+1:]) <= clicksDue {
		l.leave(s, own[last+1:], own[last].round)
	}
}

// unlistened tells whether nothing listened for so long between two of some listenings that
// nothing is known of the source then.
func (l *noiseLog) unlistened(some []listening) bool {
	for i := 1; i < len(some); i++ {
		if some[i].First.Sub(some[i-1].Last) > l.Longest {
			return true
		}
	}
	return false
}

// leave notes that rounds cannot tell, but for one.
func (l *noiseLog) leave(s *noiseSource, some []listening, but int) {
	for _, x := range some {
		if x.round != but {
			s.listened[x.round] = false
		}
	}
}

func secondsOf(some []listening) (sum float64) {
	for i := range some {
		sum += some[i].seconds()
	}
	return sum
}

// clickRate gives how many clicks a second were counted in some parts.
func clickRate(own []listening, parts [][2]int) float64 {
	pulses, seconds := 0.0, 0.0
	for _, p := range parts {
		for _, x := range own[p[0] : p[1]+1] {
			pulses, seconds = pulses+x.pulses, seconds+x.seconds()
		}
	}
	return pulses / seconds
}

// silentBefore gives when before some clicks the source was off for sure: from then on so
// many were due that their silence is no chance. silentAfter gives it after them. Zero:
// the silence is too short for that.
func silentBefore(own []listening, rate float64) (t time.Time) {
	due := 0.0
	for i := len(own) - 1; i >= 0 && own[i].pulses == 0; i-- {
		if due += rate * own[i].seconds(); due > clicksDue {
			return own[i].First
		}
	}
	return t
}

func silentAfter(own []listening, rate float64) (t time.Time) {
	due := 0.0
	for i := 0; i < len(own) && own[i].pulses == 0; i++ {
		if due += rate * own[i].seconds(); due > clicksDue {
			return own[i].Last
		}
	}
	return t
}

// A pulseCount is how many pulses were counted while a source of them was on.
type pulseCount struct {
	pulses  int
	time    time.Duration
	scatter float64 // Σ (count − expected)²/expected over the epochs
	counted int     // epochs
}

func (c pulseCount) rate() float64 { return float64(c.pulses) / c.time.Seconds() }

// few tells whether there are too few pulses to speak of a rate: of 5 it is known to a half.
func (c pulseCount) few() bool { return c.pulses < 5 }

// pulseCount counts pulses over all that antennas listened while the source was on.
func (l *noiseLog) pulseCount(s *noiseSource) (c pulseCount) {
	heard := slices.DeleteFunc(l.listenings(s), func(x listening) bool { return !s.at(x.survey, x.First) })
	for _, x := range heard {
		c.pulses += int(x.pulses)
		c.time += x.Last.Sub(x.First)
		c.counted++
	}
	for i := range heard {
		expected := c.rate() * heard[i].seconds()
		c.scatter += (heard[i].pulses - expected) * (heard[i].pulses - expected) / expected
	}
	return c
}
