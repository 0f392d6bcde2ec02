package rises

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/stats"
)

// A step is a change of the floor from one round to the next that stands out of its
// smooth line, as a device makes that is switched. What the ionosphere does is taken out by
// the slope on both sides.

const (
	// stepWindow and stepSide are how many points on each side are looked at, at the most
	// and at the least. TestStepsOfFewPoints fails when stepSide moves, as it does for stepFew.
	stepWindow, stepSide = 5, 3
	// stepSure is how many standard errors a step must have. Simulation (step_test.go)
	// confirms it: nights of floors that scatter, wander and rise smoothly, all segments
	// alike, give a false step in less than one of 1,000.
	stepSure = 6.0
	// stepFew is in a series of how many points twice as many are asked for: what they scatter
	// is known less well.
	stepFew = 8.0
	// stepAtOnce is what share of a step must lie between two neighbours. A round in the
	// midst of which the device was switched leaves half to each side of it; a rise that
	// takes three rounds, a third.
	stepAtOnce = 0.4
)

// A jump is how far two stretches of points stand apart, their common slope taken out.
type jump struct {
	size          float64 // dB
	sigma         float64 // its standard error by the series' scatter
	even          float64 // dB, with the mean slope of both sides: less than size where the line bends
	once          float64 // dB, of it between the two points beside it
	raw           float64 // dB, between these two, slope and all
	slope         float64 // dB an hour, the middle of those between any two points of one side
	before, after float64 // levels at the instant between
	at            float64 // hours, that instant
	from, to      int     // the points on both sides are from…to−1
}

// jumpAt gives the jump between the points n − 1 and n; ok is false where too few points
// are on one of its sides, without a gap.
func (s *floorSeries) jumpAt(n int) (j jump, ok bool) {
	if n < stepSide || n+stepSide > len(s.points) || !s.joined(n) {
		return j, false
	}
	low, high := n-1, n+1
	for low > max(0, n-stepWindow) && s.joined(low) {
		low--
	}
	for high < min(len(s.points), n+stepWindow) && s.joined(high) {
		high++
	}
	if n-low < stepSide || high-n < stepSide {
		return j, false
	}
	before, after := s.points[low:n], s.points[n:high]
	a, b := slopesOf(before), slopesOf(after)
	even := (stats.Median(a) + stats.Median(b)) / 2
	j.slope = stats.Median(append(a, b...))
	j.from, j.to = low, high
	j.at = (s.points[n-1].hours + s.points[n].hours) / 2
	j.before, j.after = j.level(before, j.slope), j.level(after, j.slope)
	j.size, j.even = j.after-j.before, j.level(after, even)-j.level(before, even)
	j.raw = s.points[n].level - s.points[n-1].level
	j.once = j.raw - j.slope*(s.points[n].hours-s.points[n-1].hours)
	j.sigma = s.scatter * stats.MedianError * jumpError(before, after)
	return j, true
}

// slopesOf gives the slopes between any two points, dB an hour.
func slopesOf(side []floorPoint) []float64 {
	slopes := make([]float64, 0, stepWindow*(stepWindow-1))
	for i := range side {
		for k := range i {
			slopes = append(slopes, (side[i].level-side[k].level)/max(1e-3, side[i].hours-side[k].hours))
		}
	}
	return slopes
}

// level gives the middle level of a side, led along a slope to the jump.
func (j *jump) level(side []floorPoint, slope float64) float64 {
	var levels [stepWindow]float64
	for i, p := range side {
		levels[i] = p.level - slope*(p.hours-j.at)
	}
	own := levels[:len(side)]
	slices.Sort(own)
	return stats.Quantile(own, 0.5)
}

// jumpError is the standard error of a jump for scatter of 1, by least squares with one
// slope for both sides.
func jumpError(before, after []floorPoint) float64 {
	squares := 0.0
	middle := func(side []floorPoint) (mean float64) {
		for _, p := range side {
			mean += p.hours / float64(len(side))
		}
		for _, p := range side {
			squares += (p.hours - mean) * (p.hours - mean)
		}
		return mean
	}
	apart := -middle(before) + middle(after)
	return math.Sqrt(1/float64(len(before)) + 1/float64(len(after)) + apart*apart/max(1e-9, squares))
}

// A floorStep is a step of one series.
type floorStep struct {
	jump
	series *floorSeries
	n      int       // between the points n − 1 and n
	lo, hi time.Time // it happened between
}

func (f *floorStep) up() bool { return f.size > 0 }

// stands tells whether a jump is a step: large, so many standard errors, and for the most
// part at once.
func (j *jump) stands(sure float64) bool {
	size := math.Abs(j.size)
	return size >= riseLeast && size >= sure*j.sigma && j.even*math.Copysign(1, j.size) >= riseLeast &&
		min(j.once/j.size, j.raw/j.size) >= stepAtOnce
}

// steps gives the steps of one series that stand out, and notes how its other jumps spread.
func (s *floorSeries) steps() (all []floorStep) {
	sure := stepSure * (1 + stepFew/float64(len(s.points)))
	jumps := map[int]jump{}
	for n := range s.points {
		j, ok := s.jumpAt(n)
		if !ok {
			continue
		}
		jumps[n] = j
		if !j.stands(sure) {
			continue
		}
		step := floorStep{j, s, n, s.points[n-1].First, s.points[n].Last}
		if at := len(all) - 1; at >= 0 && all[at].n+1 >= n && all[at].up() == step.up() { // halves of one
			if math.Abs(j.once) > math.Abs(all[at].once) {
				all[at] = step
			}
			continue
		}
		all = append(all, step)
	}
	s.spread = spreadOf(jumps, all)
	return all
}

// spreadOf is the standard error of a series' jumps, by those that are not near its
// steps; that of the scatter where they are too few, or smaller. NaN of none.
func spreadOf(jumps map[int]jump, steps []floorStep) float64 {
	const few = 8
	var quiet, sigmas []float64
	for n, j := range jumps {
		sigmas = append(sigmas, j.sigma)
		next, _ := slices.BinarySearchFunc(steps, n-stepWindow, func(f floorStep, n int) int { return f.n - n })
		if next == len(steps) || steps[next].n > n+stepWindow {
			quiet = append(quiet, j.size)
		}
	}
	if len(quiet) < few {
		return stats.Median(sigmas)
	}
	return max(stats.Median(sigmas), stats.Spread(quiet))
}
