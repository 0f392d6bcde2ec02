package noise

import (
	"iter"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"nightfloor/reports/stats"
	"nightfloor/reports/strength"
	"nightfloor/survey"
)

// Mains modulation has no name of its own: any number of devices beat at twice the mains
// frequency. What comes and goes with a comb is taken for that comb's; what is left is a
// source of its own.

const (
	// beatRounds is of how many rounds with a comb, and without it, the beat must be known
	// for the comb to explain it; beatRise by how much its amplitude must be stronger with
	// it; beatSure how unlikely chance must be, in standard errors of a rank sum.
	beatRounds = 3
	beatRise   = 1.8 // dB
	beatSure   = 3.0
)

// A mainsPart is the mains modulation that goes with a comb.
type mainsPart struct {
	envelope, mains, depth float64
	shape                  string
	with, of               int // rounds in which it was detected while the comb was on
	without, offOf         int // and while it was off
	shown                  bool
	turns                  int            // switchings of the comb at which it was shown
	among                  []*noiseSource // the combs of which one has it, where that cannot be told
	rise                   float64        // dB, of its amplitude, while the comb is on; +Inf: from nothing
}

// mainsOf gives a finding's mains frequency, 50 or 60 Hz.
func mainsOf(f *survey.Finding) float64 {
	switch {
	case f.Mains > 0:
		return float64(f.Mains)
	case f.Envelope > 110:
		return 60
	}
	return 50
}

// beats gives mains modulation, each mains frequency a source, as if all were of one
// device each.
func (l *noiseLog) beats() (sources []*noiseSource) {
	all := l.observe(survey.FindingMains, func(a, b *survey.Finding) bool { return mainsOf(a) != mainsOf(b) })
	for _, mains := range []float64{50, 60} {
		var obs []detection
		for i := range all {
			if mainsOf(all[i].found[0].Finding) == mains {
				obs = append(obs, all[i])
			}
		}
		if len(obs) == 0 {
			continue
		}
		s := l.newNoiseSource(survey.FindingMains, obs, 1)
		l.measureDetected(s)
		for i := range l.Readings {
			for j := range l.Readings[i].Findings {
				if f := &l.Readings[i].Findings[j]; f.Kind == survey.FindingMains && mainsOf(f) == mains && s.measured[i] == nil {
					s.measured[i] = f
				}
			}
		}
		sources = append(sources, s)
	}
	return sources
}

// share gives each comb the beat that goes with it, and what is left of the beat: nil for
// nothing.
func (l *noiseLog) share(beat *noiseSource, combs []*noiseSource) *noiseSource {
	l.place(beat, nil)
	detected := make([]bool, len(l.Rounds))
	for _, o := range beat.obs {
		detected[l.roundOf(&o)] = true
	}
	strength := l.beatStrength(beat)
	parts := map[*noiseSource]*mainsPart{}
	var mine, perhaps []*noiseSource
	for i, c := range combs {
		part := beatOf(beat, c, detected)
		if part.with < 2 || 2*part.with < part.of {
			continue
		}
		var against bool
		if part.rise, part.turns, against = l.goesWith(strength, combs, i); against {
			continue
		}
		part.shown = part.turns > 0
		l.describe(&part, beat, c)
		parts[c] = &part
		if part.shown {
			mine = append(mine, c)
		} else {
			perhaps = append(perhaps, c)
		}
	}
	perhaps = l.needed(perhaps, mine, detected)
	for _, c := range perhaps {
		parts[c].among = perhaps
	}
	mine = append(mine, perhaps...)
	for _, c := range mine {
		c.mains = c.mains.surer(parts[c])
	}
	return l.leftOver(beat, mine)
}

// surer gives of the beats at two mains frequencies, of which a comb can have one, that which
// is shown to go with it, or was detected with it more often; p may be nil.
func (p *mainsPart) surer(q *mainsPart) *mainsPart {
	switch {
	case p == nil || q.shown && !p.shown:
		return q
	case p.shown == q.shown && q.with > p.with:
		return q
	}
	return p
}

// needed gives those of some combs, each of which may have the beat, that were on where it
// was found and none of those was that have it for sure; others have no beat.
func (l *noiseLog) needed(perhaps, mine []*noiseSource, detected []bool) []*noiseSource {
	on := func(some []*noiseSource, n int) bool {
		return slices.ContainsFunc(some, func(c *noiseSource) bool { return c.on[n] })
	}
	return slices.DeleteFunc(perhaps, func(c *noiseSource) bool {
		for n := range detected {
			if detected[n] && c.on[n] && !on(mine, n) {
				return false
			}
		}
		return true
	})
}

// beatOf counts the rounds in which the beat was there, with a comb and without.
func beatOf(beat, c *noiseSource, detected []bool) (p mainsPart) {
	for n := range detected {
		if !beat.listened[n] || !c.listened[n] {
			continue
		}
		all, some := &p.offOf, &p.without
		if c.on[n] {
			all, some = &p.of, &p.with
		}
		*all++
		if detected[n] {
			*some++
		}
	}
	return p
}

// describe takes envelope, depth and shape from the rounds in which the comb was on.
func (l *noiseLog) describe(p *mainsPart, beat, c *noiseSource) {
	p.envelope, p.depth, p.shape = beatFigures(beat.findingsOf(func(o *detection) bool { return c.on[l.roundOf(o)] }))
	p.mains = mainsOf(beat.obs[0].found[0].Finding)
}

// beatFigures gives the middle envelope frequency and depth, and the commonest shape.
func beatFigures(findings iter.Seq[findingAt]) (envelope, depth float64, shape string) {
	envelope = middleOf(findings, func(f *survey.Finding) float64 { return float64(f.Envelope) })
	depth = middleOf(findings, func(f *survey.Finding) float64 { return f.Depth })
	shapes := map[string]int{}
	for g := range findings {
		if g.Shape != "" {
			shapes[g.Shape]++
		}
	}
	return envelope, depth, commonest(shapes)
}

// beatStrength gives by setup segment and round the beat's squared amplitude over the square of the
// floor, NaN where it was not measured.
func (l *noiseLog) beatStrength(beat *noiseSource) [][]float64 {
	sums := make([]*strength.Sum, len(l.SetupSegments))
	for i := range l.Readings {
		if f, h := beat.measured[i], &l.Readings[i]; f != nil && beat.keen[h.SetupSegment] {
			if sums[h.SetupSegment] == nil {
				sums[h.SetupSegment] = &strength.Sum{Rounds: make([]strength.Part, len(l.Rounds))}
			}
			sums[h.SetupSegment].Add(h, f)
		}
	}
	var out [][]float64
	for _, sum := range sums {
		if sum == nil {
			continue
		}
		x := make([]float64, len(l.Rounds))
		for n, p := range sum.Rounds {
			x[n] = p.Power / float64(p.Readings) // NaN of none
		}
		out = append(out, x)
	}
	return out
}

// goesWith tells whether the beat is stronger while a comb is on than while it is off, the
// other combs being as they are: by rank sums, one for each setup segment and each state of the
// others [vanElteren]. Rise is by how much, in dB of amplitude. Turns is at how many switchings
// of the comb the beat was seen to change with it, where that is three of four at least; 0: it
// is not shown. Against tells that the beat does not go with it, as far as that can be told.
//
//	[vanElteren] P. van Elteren, "On the combination of independent two sample tests of
//	Wilcoxon", Bulletin of the International Statistical Institute 37 (1960).
func (l *noiseLog) goesWith(strength [][]float64, combs []*noiseSource, i int) (rise float64, turns int, against bool) {
	var sum, variance, with, without float64
	known := false
	for _, byRound := range strength {
		strata := l.strata(byRound, combs, i)
		for _, state := range slices.Sorted(maps.Keys(strata)) {
			on, off := strata[state].on, strata[state].off
			if len(off) < beatRounds || len(on) < beatRounds {
				continue
			}
			known = true
			slices.Sort(on)
			slices.Sort(off)
			n, m := float64(len(on)), float64(len(off))
			weight := 1 / (n + m + 1)
			sum += weight * (rankSum(on, off) - n*(n+m+1)/2)
			variance += weight * weight * n * m * (n + m + 1) / 12
			a, b := stats.Quantile(on, 0.5), stats.Quantile(off, 0.5)
			if unit := max(math.Abs(a), math.Abs(b)); unit > 0 { // setup segments hear it at levels of their own
				with, without = with+weight*n*m*a/unit, without+weight*n*m*max(0, b)/unit
			}
		}
	}
	rise = stats.Decibel(with/without) / 2 // squares
	stronger := known && sum > beatSure*math.Sqrt(variance) && rise > beatRise
	turns, seen := l.turns(strength, combs, i)
	if against = known && !stronger || 4*turns < 3*seen; against || !stronger {
		turns = 0
	}
	return rise, turns, against
}

// turns counts the switchings of a comb at which the beat can be judged, and at how many of
// them it changes with the comb. What beats for hours of its own may well come on within half
// an hour of one, but hardly at just that round, and not again at others.
func (l *noiseLog) turns(strength [][]float64, combs []*noiseSource, i int) (agree, seen int) {
	c, heard := combs[i], map[int64][]int{} // rounds of each survey
	for n, round := range l.Rounds {
		if c.listened[n] {
			heard[round.Key.Survey] = append(heard[round.Key.Survey], n)
		}
	}
	usual := usualBeat(strength, c)
	for _, own := range heard {
		for k := 1; k < len(own); k++ {
			a, b := own[k-1], own[k]
			if c.on[a] == c.on[b] || l.Rounds[b].First.Sub(l.Rounds[a].First) > 2*l.Usual {
				continue
			}
			for _, state := range []int{a, b} { // of the other combs, as in that round
				if told, with := c.turn(strength, usual, own, k, func(n int) bool { return asIn(combs, i, n, state) }); told {
					seen++
					if with {
						agree++
					}
					break
				}
			}
		}
	}
	return agree, seen
}

// usualBeat gives by setup segment the beat's strength in the better half of the rounds with a comb.
func usualBeat(strength [][]float64, c *noiseSource) (usual []float64) {
	for _, byRound := range strength {
		var on []float64
		for n, x := range byRound {
			if c.on[n] && !math.IsNaN(x) {
				on = append(on, x)
			}
		}
		slices.Sort(on)
		usual = append(usual, stats.Quantile(on, 0.75))
	}
	return usual
}

// asIn tells whether all combs but one are on or off in a round as they are in another.
func asIn(combs []*noiseSource, i, n, state int) bool {
	for k, c := range combs {
		if k != i && c.on[n] != c.on[state] {
			return false
		}
	}
	return true
}

// turn judges the beat at the switching between the rounds k − 1 and k of those that listened,
// by rounds that fit: told is false where there are too few of them, or the beat scatters too
// much. With tells that it is stronger on the comb's side, and changes at the switching, to a
// round in the midst of which the comb was switched.
func (s *noiseSource) turn(strength [][]float64, usual []float64, own []int, k int, fits func(n int) bool) (told, with bool) {
	const few = beatRounds + 1 // the more, the likelier others switch among them
	side := func(rounds []int) (some []int) {
		for _, n := range rounds {
			if s.on[n] != s.on[rounds[0]] {
				break
			}
			if fits(n) && (!s.on[n] || s.partly[n] == 1) {
				some = append(some, n)
			}
		}
		return some
	}
	back := slices.Clone(own[max(0, k-few):k])
	slices.Reverse(back)
	before, after := side(back), side(own[k:min(len(own), k+few)])
	slices.Reverse(before)
	x, y := beatLevels(strength, usual, before), beatLevels(strength, usual, after)
	if len(x) < beatRounds || len(y) < beatRounds {
		return false, false
	}
	var changes []float64
	for _, side := range [][]float64{x, y} {
		for i := 1; i < len(side); i++ {
			changes = append(changes, math.Abs(side[i]-side[i-1]))
		}
	}
	n, m := float64(len(x)), float64(len(y))
	sigma := stats.Median(changes) / 0.6745 / math.Sqrt2 * stats.MedianError * math.Sqrt(1/n+1/m)
	at := splitOf(append(slices.Clone(x), y...))
	off, on := stats.Median(x), stats.Median(y)
	if s.on[own[k-1]] {
		off, on = on, off
	}
	least := 1 - stats.FromDecibel(-beatRise) // of the stronger side's square: half of beatRise, others may beat too
	sudden := at >= len(x)-1 && at <= len(x)+1
	with = sudden && on-off > 3*sigma && on-off > least*on
	return with || 3*sigma < least, with
}

// beatLevels gives the beat's strength in some rounds, each setup segment's against what is usual there,
// the mean of all setup segments.
func beatLevels(strength [][]float64, usual []float64, rounds []int) (levels []float64) {
	for _, n := range rounds {
		var all []float64
		for e, byRound := range strength {
			if usual[e] > 0 && !math.IsNaN(byRound[n]) {
				all = append(all, byRound[n]/usual[e])
			}
		}
		if len(all) > 0 {
			levels = append(levels, stat.Mean(all, nil))
		}
	}
	return levels
}

// splitOf gives the place that parts a row best in two of different means: that at which the
// squares about them are least.
func splitOf(x []float64) (at int) {
	best := -1.0
	for k := 1; k < len(x); k++ {
		a, b := stat.Mean(x[:k], nil), stat.Mean(x[k:], nil)
		if between := float64(k*(len(x)-k)) * (a - b) * (a - b); between > best {
			best, at = between, k
		}
	}
	return at
}

// besideSwitching tells of each round whether a comb was switched within a few rounds of it.
// What beats for hours of its own overlaps with those of any comb; at the comb's coming and
// going it changes by chance alone.
func (l *noiseLog) besideSwitching(c *noiseSource) []bool {
	const few = 2 * beatRounds
	beside := make([]bool, len(l.Rounds))
	last := map[int64]int{} // round of each survey that listened
	for n := range l.Rounds {
		id := l.Rounds[n].Key.Survey
		before, ok := last[id]
		if !c.listened[n] {
			continue
		}
		last[id] = n
		if ok && c.on[n] != c.on[before] {
			for k := max(0, before-few+1); k < min(len(beside), n+few); k++ {
				beside[k] = beside[k] || l.Rounds[k].Key.Survey == id
			}
		}
	}
	return beside
}

// A stratum is what was measured through one setup segment in the rounds in which all combs but one
// were in one state, that one on or off.
type stratum struct{ on, off []float64 }

func (l *noiseLog) strata(byRound []float64, combs []*noiseSource, i int) map[string]*stratum {
	all := map[string]*stratum{}
	beside := l.besideSwitching(combs[i])
	for n, x := range byRound {
		if !beside[n] || math.IsNaN(x) || !combs[i].listened[n] || combs[i].on[n] && combs[i].partly[n] < 1 {
			continue
		}
		state := make([]byte, len(combs))
		for k, c := range combs {
			if k != i && c.on[n] {
				state[k] = 1
			}
		}
		at := all[string(state)]
		if at == nil {
			at = &stratum{}
			all[string(state)] = at
		}
		if combs[i].on[n] {
			at.on = append(at.on, x)
		} else {
			at.off = append(at.off, x)
		}
	}
	return all
}

// rankSum gives the sum of the ranks of x among x and y, from 1; those that tie share
// theirs. Both are in rising order.
func rankSum(x, y []float64) (sum float64) {
	for i := 0; i < len(x); {
		tie := i + 1
		for tie < len(x) && x[tie] == x[i] {
			tie++
		}
		under, _ := slices.BinarySearch(y, x[i])
		upTo, _ := slices.BinarySearch(y, math.Nextafter(x[i], math.Inf(1)))
		n := float64(tie - i)
		sum += n * (float64(i+under) + (n+float64(upTo-under)+1)/2)
		i = tie
	}
	return sum
}

// leftOver is the beat of rounds in which none of the combs that it belongs to was on, nor
// was in the round before or after; nil where that is no source.
func (l *noiseLog) leftOver(beat *noiseSource, mine []*noiseSource) *noiseSource {
	near := func(n int) bool {
		return slices.ContainsFunc(mine, func(c *noiseSource) bool {
			return c.on[n] || n > 0 && c.on[n-1] || n+1 < len(c.on) && c.on[n+1]
		})
	}
	obs := slices.DeleteFunc(slices.Clone(beat.obs), func(o detection) bool { return near(l.roundOf(&o)) })
	if len(obs) == 0 {
		return nil
	}
	rest := l.newNoiseSource(survey.FindingMains, obs, 1)
	if !l.shows(rest) {
		return nil
	}
	rest.measured = slices.Clone(beat.measured)
	for i := range rest.measured {
		if near(l.Readings[i].Round) {
			rest.measured[i] = nil
		}
	}
	l.place(rest, near)
	return rest
}
