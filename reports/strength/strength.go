package strength

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/isolation"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Sum gathers what was measured through one setup segment, by round.
type Sum struct {
	Rounds []Part
	gain   survey.Gain // that powers are referred to
	any    bool
	Scale  float64 // dB of a ratio of what is summed up, for one of powers
}

// A Part is a sum over the readings of a round.
type Part struct {
	Power, Over, Variance float64
	Readings              int
}

// Sums holds a Sum by setup segment; nil: nothing was measured through it.
type Sums []*Sum

// NewSums gives the sums of nothing.
func NewSums(l *readlog.Log) Sums { return make(Sums, len(l.SetupSegments)) }

// Add takes a reading of the log.
func (s Sums) Add(l *readlog.Log, r *readlog.Reading, f *survey.Finding) {
	if s[r.SetupSegment] == nil {
		s[r.SetupSegment] = &Sum{Rounds: make([]Part, len(l.Rounds))}
	}
	s[r.SetupSegment].Add(r, f)
}

// Add takes a reading. Mains modulation is measured as the square of an amplitude of the
// density, so that it is held against the square of the floor. Of what is measured in dB
// alone, a power over the floor is made.
func (sum *Sum) Add(h *readlog.Reading, f *survey.Finding) {
	p := Part{Readings: 1}
	sum.Scale = 1
	switch f.Kind {
	case survey.FindingComb, survey.FindingMains:
		if h.Floor == nil || !stats.Finite(f.Power) || !stats.Finite(f.Sigma) {
			return
		}
		lower, ok := input.Refer(h.Gain, sum.gain)
		if !sum.any {
			sum.gain, lower, ok = h.Gain, 0, true
		}
		if !ok {
			return
		}
		scale := stats.FromDecibel(-float64(lower))
		p.Over = h.Floor.Density.Linear() * scale
		if f.Kind == survey.FindingComb {
			p.Over *= float64(h.Resolution)
		} else {
			p.Over, scale, sum.Scale = p.Over*p.Over, scale*scale, 0.5
		}
		p.Power, p.Variance = f.Power*scale, f.Sigma*f.Sigma*scale*scale
	default:
		if f.Kind == survey.FindingHump && (f.High <= h.Segment.Low || f.Low >= h.Segment.High) {
			return // in the passband, but beside the segment
		}
		p.Power, p.Over = stats.FromDecibel(float64(f.Strength)), 1
	}
	if !(p.Over > 0) || !stats.Finite(p.Power) {
		return
	}
	sum.any = true
	sum.Rounds[h.Round].Join(p)
}

// Join adds another part.
func (p *Part) Join(q Part) {
	p.Power, p.Over, p.Variance, p.Readings = p.Power+q.Power, p.Over+q.Over, p.Variance+q.Variance, p.Readings+q.Readings
}

// Tell writes the level, its interval or bound, and the number of rounds into s. The level is the
// mean power over the median floor, each round counting alike; its interval is a jackknife's over
// blocks of rounds, and there is none with too few rounds for it. Where the level is at most two
// standard errors there is an upper bound only: the interval's upper end, or with too few rounds
// two standard errors over the level, by the errors that the readings state.
func (sum *Sum) Tell(s *result.NoiseStrength) {
	var used []Part
	var overs []float64
	for _, p := range sum.Rounds {
		if p.Readings > 0 { // each round counts alike
			n := float64(p.Readings)
			used = append(used, Part{p.Power / n, p.Over / n, p.Variance / n / n, 1})
			overs = append(overs, p.Over/n)
		}
	}
	// All rounds are held against one floor, the median: where the floor changes while the
	// source is on (another source comes on, the sky rises), the source has not changed.
	var all Part
	over := stats.Median(overs)
	for i := range used {
		used[i].Over = over
		all.Join(used[i])
	}
	s.Rounds = len(used)
	if len(used) == 0 {
		return
	}
	level := all.Power / all.Over
	sigma := math.Sqrt(all.Variance) / all.Over
	low, high := level-2*sigma, level+2*sigma
	var bounded bool
	if len(used) >= stats.MinRounds {
		j := ratioJackknife(used, all)
		sigma = max(sigma, j.Sigma())
		low, high, bounded = j.Interval()
	}
	show := func(x float64) *survey.DB {
		if !(x > 0) {
			return nil
		}
		return result.DB(sum.Scale * stats.Decibel(x))
	}
	if level <= 2*sigma {
		s.High = show(high - min(0, level)) // no power is under nothing
		return
	}
	s.Level = show(level)
	if bounded {
		s.Low, s.High = show(low), show(high)
	}
}

// Isolation tells by how much less of it comes through a control, in the rounds in which it was measured through both;
// nil where it was not, or their gains do not compare, or it is measured in dB alone.
func (sum *Sum) Isolation(control *Sum) *result.Isolation {
	r := isolation.Ratio{Squares: sum.Scale != 1}
	lower, ok := input.Refer(control.gain, sum.gain)
	if !ok {
		return nil
	}
	scale := stats.FromDecibel(-float64(lower) / sum.Scale)
	for n, p := range sum.Rounds {
		if c := control.Rounds[n]; p.Variance > 0 && c.Variance > 0 {
			readings := float64(c.Readings)
			r.Add(c.Power*scale/readings, math.Sqrt(c.Variance)*scale/readings, p.Power/float64(p.Readings))
		}
	}
	return r.Isolation()
}

// ratioJackknife leaves each block of rounds in turn out of the ratio of sums; all are the sums
// over all rounds.
func ratioJackknife(used []Part, all Part) *stats.Jackknife {
	full := all.Power / all.Over
	var l stats.Lagged
	rest := make([]float64, len(used))
	for i, p := range used {
		rest[i] = p.Power - full*p.Over
	}
	l.Add(rest)
	r, _ := l.Correlation()
	r = max(0, min(0.8, r))
	blockOf, n := stats.Blocks(len(used), r)
	parts, sizes := make([]Part, n), make([]int, n)
	for i, p := range used {
		parts[blockOf[i]].Join(p)
		sizes[blockOf[i]]++
	}
	return stats.NewJackknife(full, sizes, len(used), r, func(b int) (float64, bool) {
		over := all.Over - parts[b].Over
		return (all.Power - parts[b].Power) / over, over > 0
	})
}

// At gives a strength, its figures not known yet, of a setup segment of the log.
func At(l *readlog.Log, e int) result.NoiseStrength {
	at := l.SetupSegments[e]
	return result.NoiseStrength{Setup: at.Setup, Segment: at.Segment.Name, SegmentLow: at.Segment.Low, SegmentHigh: at.Segment.High}
}
