package baseline

import (
	"math"

	"nightfloor/dsp/stat"
)

// What stands up with steep edges (METHODS.md 4.6); chosen.
const (
	// broadest is the width in Hz up to which something high and steep is a signal: the
	// broadest transmissions of shortwave, sounders and radars, take 40 kHz.
	broadest = 60e3
	// Something this narrow (Hz) is a signal whatever its height: one station or two.
	narrowest = 15e3
	// What is broader is a signal from here on (power ratio, 4.5 dB); noise
	// is often a few dB up over tens of kilohertz.
	signalHeight = 2.82
	// sameHeight is what a group of a raised stretch is at least, against the
	// stretch's level (−1.5 dB). TestBaselineFollowsNoise (block with sides).
	sameHeight = 0.71
	// stepSlope is the share of the steepest slope from which there is a step.
	// TestStationsBesideAStep.
	stepSlope = 0.8
	// floodReach is how many groups on either side tell whether one is noise: 20 kHz.
	// TestFlankIsAskedForAsAWhole.
	floodReach = 8
)

// flood accepts as noise, the lowest groups first, those that rise from the
// nearest accepted ones on both sides no faster than noise does. Taken columns
// between two groups hide a slope, so they earn rise; open groups between them
// that are higher do not. It reports whether anything is noise.
func (l *Baseline) flood() bool {
	clear(l.accepted)
	for _, g := range l.byLevel() {
		l.accepted[g] = l.mayBeNoise(g, -1) && l.mayBeNoise(g, +1)
	}
	return len(l.order) > 0
}

// mayBeNoise reports whether a group is no higher than noise may be beside the nearest
// accepted ones in a direction; true where there are none. Several are asked, lest
// what each may scatter adds up on a steep flank.
func (l *Baseline) mayBeNoise(g, direction int) bool {
	rise, asked := steepest, 0
	for k := g + direction; k >= 0 && k < len(l.groupLevel) && asked < floodReach; k += direction {
		if l.accepted[k] {
			if l.groupLevel[g] > l.groupLevel[k]*math.Exp(rise)*(1+likely*math.Hypot(l.sigma[g], l.sigma[k])) {
				return false
			}
			asked++
		}
		if l.accepted[k] || l.open[k] == 0 {
			rise += steepest
		}
	}
	return true
}

// A stretch is something that stands up with steep edges.
type stretch struct {
	from, to       int // groups
	before, behind int // taken groups up to the next lower ones
	level          float64
	beside         float64 // level of the higher of its sides
}

// plateaus accepts stretches over the course that are noise by their width,
// and notes the steps where they begin and end.
func (l *Baseline) plateaus() {
	l.undecided = l.undecided[:0]
	for g := 0; g < len(l.groupLevel); g++ {
		if !l.standsOver(g) {
			continue
		}
		end, level := l.run(g)
		s := l.around(g, end, level)
		if s.isSignal(s.leastWidth(), s.leastWidth()) != s.isSignal(s.mostWidth(), s.mostWidth()) {
			l.undecided = append(l.undecided, s)
		}
		if !s.isSignal(s.leastWidth(), s.likelyWidth()) {
			l.accept(g, end, level*signalHeight)
			l.markSteps(s)
		}
		g = end
	}
	l.findSteps()
	l.dropNarrow()
}

// standsOver reports whether an open group stands over the course.
func (l *Baseline) standsOver(g int) bool {
	return l.open[g] > 0 && !l.included[g] && l.groupLevel[g] > l.noise[g]
}

// accept makes the open groups from…to noise, save those over the level most.
func (l *Baseline) accept(from, to int, most float64) {
	for k := from; k <= to; k++ {
		if l.open[k] > 0 && l.groupLevel[k] <= most {
			l.accepted[k], l.included[k] = true, true
		}
	}
}

// markSteps notes the steps where a stretch begins and ends.
func (l *Baseline) markSteps(s stretch) {
	l.step[s.from] = true
	if next := s.to + s.behind + 1; next < len(l.step) {
		l.step[next] = true
	}
}

// findSteps notes the steps: where neighbours among the noise differ by more than
// its slope and scatter explain.
func (l *Baseline) findSteps() {
	last := -1
	for g := range l.groupLevel {
		if !l.included[g] {
			continue
		}
		if last >= 0 && !l.step[g] {
			rise := math.Abs(math.Log(l.groupLevel[g] / l.groupLevel[last]))
			l.step[g] = rise > stepSlope*steepest*float64(g-last)+likely*math.Hypot(l.sigma[g], l.sigma[last])
		}
		last = g
	}
}

// dropNarrow takes out of the noise what stands raised and narrow between two steps, and the
// steps with it.
func (l *Baseline) dropNarrow() {
	const groups = int(narrowest / (cellHz * cellsInGroup))
	for g := 1; g < len(l.step); g++ {
		if !l.step[g] || l.open[g] == 0 {
			continue
		}
		for k := g + 1; k < len(l.step) && k <= g+groups; k++ {
			if l.step[k] && l.lower(g, k) {
				l.step[g], l.step[k] = false, false
				for ; g < k; g++ {
					l.accepted[g], l.included[g] = false, false
				}
				break
			}
		}
	}
}

// lower reports whether the noise before group g and from group k on is lower than that
// between.
func (l *Baseline) lower(g, k int) bool {
	before, behind := l.beside(g, -1), l.beside(k-1, +1)
	return before > 0 && behind > 0 && l.groupLevel[g]*sameHeight > before && l.beside(k, -1)*sameHeight > behind
}

// beside gives the level of the next group of the noise in a direction, 0 where
// there is none.
func (l *Baseline) beside(g, direction int) float64 {
	for k := g + direction; k >= 0 && k < len(l.groupLevel); k += direction {
		if l.included[k] {
			return l.groupLevel[k]
		}
	}
	return 0
}

// run gives the last of the open groups from g on that stand over the course, and
// their median level: a summit among them does not speak for all.
func (l *Baseline) run(g int) (end int, level float64) {
	l.sorted = l.sorted[:0]
	for k := g; k < len(l.groupLevel); k++ {
		if l.open[k] == 0 {
			continue
		}
		if !l.standsOver(k) {
			break
		}
		end, l.sorted = k, append(l.sorted, l.groupLevel[k])
	}
	return end, stat.Select(l.sorted, len(l.sorted)/2)
}

// around gives the stretch that the groups from…to of a level belong to, without
// flanks: what beside them stands as high, or at least halfway above the course.
func (l *Baseline) around(from, to int, level float64) (s stretch) {
	least := func(g int) float64 { return max(level*sameHeight, (level+l.noise[g])/2) }
	for from < to && (l.open[from] == 0 || l.groupLevel[from] < level*sameHeight) {
		from++
	}
	for to > from && (l.open[to] == 0 || l.groupLevel[to] < level*sameHeight) {
		to--
	}
	s.level = level
	var low, high float64
	s.from, s.before, low = l.raised(from, -1, least(from))
	s.to, s.behind, high = l.raised(to, +1, least(to))
	s.beside = max(low, high)
	return s
}

// raised gives the last open group in a direction before one that is lower than
// least, how many taken ones lie between, and the level of the next one of the
// noise from there; 0 where there is none.
func (l *Baseline) raised(g, direction int, least float64) (last, gap int, low float64) {
	last = g
	for k := g + direction; k >= 0 && k < len(l.groupLevel); k += direction {
		if l.open[k] == 0 {
			gap++
			continue
		}
		if l.groupLevel[k] < least {
			return last, gap, l.beside(k-direction, direction)
		}
		last, gap = k, 0
	}
	return last, gap, 0
}

// leastWidth, mostWidth and likelyWidth give the width of a stretch in groups: its ends may
// lie anywhere in the taken columns beside it.
func (s stretch) leastWidth() float64  { return float64(s.to - s.from + 1) }
func (s stretch) mostWidth() float64   { return s.leastWidth() + float64(s.before+s.behind) }
func (s stretch) likelyWidth() float64 { return (s.leastWidth() + s.mostWidth()) / 2 }

// isSignal reports whether a stretch is a transmission if what is seen of it is
// so many groups wide and the whole so many: narrow, or not broad and high over
// its sides.
func (s stretch) isSignal(seen, whole float64) bool {
	const group = cellHz * cellsInGroup
	return seen*group <= narrowest || whole*group <= broadest && s.level > signalHeight*s.beside
}

// AmbiguityVariance gives the variance of the noise summed over the columns from…to for
// what no half can tell: stretches that may be noise or signals, by half of what
// they would likely add, for both readings are to be covered; and gaps whose ends
// differ by more than the slopes beside them explain, in which the noise may step at
// any place: height times gap over √12.
func (l *Baseline) AmbiguityVariance(from, to int) (variance float64) {
	span := l.CellWidth * cellsInGroup
	columns := func(first, end int) float64 { // of groups first…end−1 in from…to
		return float64(max(0, min(end*span, to)-max(first*span, from)))
	}
	for _, s := range l.undecided {
		excess := columns(s.from-s.before/2, s.to+s.behind/2+1) * max(0, s.level-s.beside)
		variance += excess * excess / 4
	}
	last := -1
	for g := range l.groupLevel {
		if !l.included[g] {
			continue
		}
		if last >= 0 && !l.step[g] {
			step := columns(last+1, g) * l.noise[last] * math.Expm1(l.unexplained(last, g))
			variance += step * step / 12
		}
		last = g
	}
	return variance
}

// unexplained gives how many nepers the course rises from one group to another
// beyond what its slopes there would make it.
func (l *Baseline) unexplained(from, to int) float64 {
	x := l.course.x
	rise := x[to] - x[from]
	slope := (x[from] - x[max(0, from-1)] + x[min(len(x)-1, to+1)] - x[to]) / 2
	explained := slope * float64(to-from)
	if rise < 0 {
		return min(0, rise-min(0, explained))
	}
	return max(0, rise-max(0, explained))
}
