package reports

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A strengthSum gathers what was measured through one setup segment, by round.
type strengthSum struct {
	rounds []strengthPart
	gain   survey.Gain // that powers are referred to
	any    bool
	scale  float64 // dB of a ratio of what is summed up, for one of powers
}

// A strengthPart is a sum over the readings of a round.
type strengthPart struct {
	power, over, variance float64
	readings              int
}

// add takes a reading. Mains modulation is measured as the square of an amplitude of the
// density, so that it is held against the square of the floor. Of what is measured in dB
// alone, a power over the floor is made.
func (sum *strengthSum) add(h *loggedReading, f *survey.Finding) {
	p := strengthPart{readings: 1}
	sum.scale = 1
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
		p.over = h.Floor.Density.Linear() * scale
		if f.Kind == survey.FindingComb {
			p.over *= float64(h.Resolution)
		} else {
			p.over, scale, sum.scale = p.over*p.over, scale*scale, 0.5
		}
		p.power, p.variance = f.Power*scale, f.Sigma*f.Sigma*scale*scale
	default:
		if f.Kind == survey.FindingHump && (f.High <= h.Segment.Low || f.Low >= h.Segment.High) {
			return // in the passband, but beside the segment
		}
		p.power, p.over = stats.FromDecibel(float64(f.Strength)), 1
	}
	if !(p.over > 0) || !stats.Finite(p.power) {
		return
	}
	sum.any = true
	sum.rounds[h.round].join(p)
}

func (p *strengthPart) join(q strengthPart) {
	p.power, p.over, p.variance, p.readings = p.power+q.power, p.over+q.over, p.variance+q.variance, p.readings+q.readings
}

// tell gives the level with its interval: that of a ratio of means, over blocks of rounds.
// With too few rounds for one, what the readings say of themselves must do for a bound.
func (sum *strengthSum) tell(s *result.NoiseStrength) {
	var used []strengthPart
	var overs []float64
	for _, p := range sum.rounds {
		if p.readings > 0 { // each round counts alike
			n := float64(p.readings)
			used = append(used, strengthPart{p.power / n, p.over / n, p.variance / n / n, 1})
			overs = append(overs, p.over/n)
		}
	}
	// The floor is a yardstick: what it does itself while the source is on (another one
	// comes, the sky rises) is not the source's.
	var all strengthPart
	over := stats.Median(overs)
	for i := range used {
		used[i].over = over
		all.join(used[i])
	}
	s.Rounds = len(used)
	if len(used) == 0 {
		return
	}
	level := all.power / all.over
	sigma := math.Sqrt(all.variance) / all.over
	low, high := level-2*sigma, level+2*sigma
	var bounded bool
	if len(used) >= stats.MinRounds {
		j := ratioJackknife(used)
		sigma = max(sigma, j.Sigma())
		low, high, bounded = j.Interval()
	}
	show := func(x float64) *survey.DB {
		if !(x > 0) {
			return nil
		}
		return result.DB(sum.scale * stats.Decibel(x))
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

// ratioJackknife leaves out each block of rounds in turn of a ratio of sums.
func ratioJackknife(used []strengthPart) *stats.Jackknife {
	var all strengthPart
	for _, p := range used {
		all.join(p)
	}
	full := all.power / all.over
	var l stats.Lagged
	rest := make([]float64, len(used))
	for i, p := range used {
		rest[i] = p.power - full*p.over
	}
	l.Add(rest)
	r, _ := l.Correlation()
	r = max(0, min(0.8, r))
	blockOf, n := stats.Blocks(len(used), r)
	j := &stats.Jackknife{Full: full, Change: make([]float64, n), Weight: make([]float64, n)}
	parts := make([]strengthPart, n)
	for i, p := range used {
		parts[blockOf[i]].join(p)
	}
	for b, p := range parts {
		if over := all.over - p.over; over > 0 {
			j.Change[b] = full - (all.power-p.power)/over
			j.Weight[b] = float64(len(used))/float64(p.readings) - 1
		}
	}
	j.Widen = stats.Widening(len(used), n, r)
	return j
}

func strengthAt(l *readLog, e int) result.NoiseStrength {
	at := l.setupSegments[e]
	return result.NoiseStrength{Setup: at.setup, Segment: at.segment.Name, From: at.segment.Low, To: at.segment.High}
}
