package bearings

import (
	"math"

	"nightfloor/reports/isolation"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
)

// A leak is what comes beside the antenna, as controls show it: no null is deeper than the isolation
// (PHYSICS.md 5.7), and what is left in one may be the antenna's, more or less.
type leak struct {
	share    float64 // of a power; 0 without a control
	bound    bool    // no more than that: the controls hear nothing
	coherent bool    // it adds by voltage, else by power
}

// leak gives the share that comes through controls of a power that is so many times the pattern's mean.
func (s *patternFit) leak(times float64) leak {
	r := isolation.Ratio{Squares: s.square}
	for n, all := range s.through {
		if s.parts[n].rounds == 0 {
			continue
		}
		for _, x := range all {
			r.Add(x.power, x.sigma, s.scale[n]*math.Pow(times, 1/s.toPower()))
		}
	}
	share, bound, ok := r.Leak()
	if !ok {
		return leak{}
	}
	return leak{share, bound, s.floors == nil}
}

// widen gives the 95 % interval of a share that was measured, from that of its scatter alone and what no round
// averages out. A leak that adds by voltage may have the phase of what is in the null, or the opposite one; a share
// that is not told from nothing has none of its own to add to.
func (l leak) widen(share, least, most, bias float64) (low, high float64) {
	up, down, seen := 0.0, 0.0, max(0, share)
	switch {
	case l.bound:
	case !l.coherent:
		down = min(seen, l.share)
	case least > 0:
		cross := 2 * math.Sqrt(seen*l.share)
		up, down = l.share+cross, min(seen, math.Abs(l.share-cross))
	default:
		up = l.share
	}
	low = share - math.Sqrt((share-least)*(share-least)+bias*bias+down*down)
	high = seen + math.Sqrt((most-share)*(most-share)+bias*bias+up*up)
	return low, max(high, l.share, leastShare)
}

// turn is by how many degrees a leak that adds by voltage turns a null at most: by its share of the antenna's
// voltage if the fit were of the null alone, by 16/(3π) of that over half a turn (derived; TestNullsThroughLeakage).
func (l leak) turn() float64 {
	if l.bound || !l.coherent {
		return 0
	}
	return math.Asin(min(1, 16/(3*math.Pi)*math.Sqrt(l.share))) * 180 / math.Pi
}

// isolation shows the leak; nil without a control.
func (l leak) isolation() *result.Isolation {
	if l.share == 0 {
		return nil
	}
	return isolation.Of(-stats.Decibel(l.share), l.bound)
}

// matters tells whether a pattern is off for the leak, or its null no deeper than that.
func (l leak) matters(share float64) bool {
	return l.share > 0 && !l.bound && (share <= l.share || l.coherent && stats.Decibel(l.share) > -isolation.Coherent)
}
