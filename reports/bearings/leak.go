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
	isolation *result.Isolation // nil without a control
	share     float64           // of a power; 0 without a control
	coherent  bool              // it adds by voltage, else by power
	atMost    bool              // a control hears it, at a gain that does not compare: it may be less
}

// heard tells whether a control hears it; else there is a bound at most.
func (l leak) heard() bool { return l.isolation != nil && (!l.isolation.Bound || l.atMost) }

// leak gives the share of a power that is so many times the pattern's mean, through the control that hears most of it. Of a
// floor a control that mostly shows own noise hears nothing: what is left of that is a bound. Of a control at a gain that does not
// compare a floor tells nothing, for own noise does not follow the gain; of what else it hears so much is the most.
func (s *patternFit) leak(times float64) leak {
	ratios, limited, atMost := map[int]*isolation.Ratio{}, map[int]int{}, map[int]bool{}
	for n, all := range s.through {
		if s.parts[n].rounds == 0 {
			continue
		}
		for _, x := range all {
			if x.atMost && s.floors != nil {
				continue
			}
			atMost[x.setup] = atMost[x.setup] || x.atMost
			if ratios[x.setup] == nil {
				ratios[x.setup] = &isolation.Ratio{Squares: s.square}
			}
			if x.limited {
				limited[x.setup]++
			} else {
				limited[x.setup]--
			}
			ratios[x.setup].Add(x.power, x.sigma, s.scale[n]*math.Pow(times, 1/s.toPower()))
		}
	}
	worst := leak{coherent: s.floors == nil}
	for setup, r := range ratios {
		i := r.Isolation()
		if i != nil && s.floors != nil && limited[setup] > 0 {
			i.Bound, i.Poor = true, false
		}
		if isolation.Worse(worst.isolation, i) != worst.isolation {
			worst.isolation, worst.share, worst.atMost = i, stats.FromDecibel(-float64(*i.DB)), atMost[setup] && !i.Bound
		}
	}
	if worst.atMost {
		worst.isolation.Bound, worst.isolation.Poor = true, false
	}
	return worst
}

// widen gives the 95 % interval of a share that was measured, from that of its scatter alone and what no round
// averages out. A leak that adds by voltage may have the phase of what is in the null, or the opposite one; a share
// that is not told from nothing has none of its own to add to.
func (l leak) widen(share, least, most, bias float64) (low, high float64) {
	up, down, seen := 0.0, 0.0, max(0, share)
	switch {
	case !l.heard():
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
	if !l.heard() || !l.coherent {
		return 0
	}
	return math.Asin(min(1, 16/(3*math.Pi)*math.Sqrt(l.share))) * 180 / math.Pi
}

// matters tells whether a pattern is off for the leak, or its null no deeper than that.
func (l leak) matters(share float64) bool {
	return l.heard() && (share <= l.share || l.coherent && float64(*l.isolation.DB) < isolation.Coherent && (l.isolation.Poor || l.atMost))
}
