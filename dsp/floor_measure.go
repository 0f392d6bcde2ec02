package dsp

import "math"

// Guards tried in turn, until enough of a band stays free.
var guards = []struct {
	guard
	free   float64 // share of the band's columns that must stay
	hidden float64 // standard error, relative, for what sidebands still add
}{
	{guard{radius: 5000, over: carrierOverFloor}, 0.10, 0},
	// Audio ends at 4.5 kHz, but its filters are not steep: where every slot of
	// the raster is taken the 600 Hz left between two read 0.025 dB high.
	{guard{radius: 4700, over: 30}, 0.03, 0.005},
	// Nothing but what the search for excess finds. A block of 5 kHz is found
	// from 8 % of the noise up; a quarter of that, for they seldom fill a band.
	{guard{radius: 0, over: math.Inf(1)}, 0, 0.02},
}

// fewestColumns must stay, else less is guarded: under them the floor scatters by
// more than the sidebands that the search for excess leaves.
const fewestColumns = 40

// A bandFloor is a floor in the making.
type bandFloor struct {
	level     int     // the guard it rests on; −1: none yet
	power     float64 // by column
	variance  float64 // relative, of steady noise
	inflation float64 // by which bursts raise it
	occupancy float64
	frames    int
	ok        bool
	crowded   bool
}

// crowdedShare is the share of a band under which its floor is not told.
const crowdedShare = 0.01

// measure measures the floor of a band if the mask leaves enough for its level,
// and notes what is free.
func (m *Meter) measure(w *bandWatch, mask *mask, level int) {
	sum := sumFree(m.averages, mask, w.from, w.to)
	share := float64(sum.free) / float64(w.to-w.from)
	last := level == len(guards)-1
	if !last && (share < guards[level].free || sum.free < fewestColumns) {
		return
	}
	f := bandFloor{level: level, power: sum.power, variance: sum.variance, occupancy: 1 - share,
		frames: m.averages.total(), crowded: share < crowdedShare || sum.free < 4}
	f.ok = !f.crowded && f.power > 0 // silence has no floor
	ratio, doubt := m.tilt(w, mask)
	f.power *= ratio
	f.variance += doubt*doubt + guards[level].hidden*guards[level].hidden
	f.inflation = inflation(m.averages, mask, w.from, w.to, sum.free)
	if f.crowded {
		f.power = m.rough.floor[(w.from+w.to)/2]
	}
	w.floor = f
	clear(w.free)
	for b := w.from; b < w.to; b++ {
		w.free[b] = !mask.taken[0][b] && !mask.taken[1][b]
	}
}

// fitLoss is the variance of a straight line's value at the end of its points
// against that of their mean: 4.
const fitLoss = 4

// fitDoubt is the share of a correction that may be wrong, fitWorst what it may
// come to: fits that reach far over taken columns overshoot the top of a hump by
// a fifth or so, 0.04 dB of the band's mean; the corrections of long tilts, which
// are greater, were right within that in simulation.
const (
	fitDoubt = 0.2
	fitWorst = 0.01
)

// tilt gives the mean of the local noise over a whole band against its mean
// over the free columns: where signals sit on the high or the low side of a
// tilted floor, the free columns alone do not tell the band's mean. doubt is its
// relative standard error. On a floor that is level within four of these the
// ratio is 1.
func (m *Meter) tilt(w *bandWatch, mask *mask) (ratio, doubt float64) {
	var all, open float64
	taken, free := 0, 0
	for b := w.from; b < w.to; b++ {
		noise := mask.noise[0][b] + mask.noise[1][b]
		all += noise
		if mask.taken[0][b] || mask.taken[1][b] {
			taken++
			continue
		}
		open += noise
		free++
	}
	if taken == 0 || free == 0 || open <= 0 {
		return 1, 0
	}
	n := float64(taken + free)
	ratio = all / n / (open / float64(free))
	// What the fits scatter together is at least what the free columns do;
	// reaching over taken ones they scatter more. The two means have the free
	// columns in common.
	doubt = math.Sqrt(binCorrelation / (2 * m.averages.looks * float64(free)) * float64(taken) / float64(free) * fitLoss)
	if math.Abs(ratio-1) < 4*doubt {
		return 1, 0
	}
	return ratio, math.Hypot(doubt, min(fitWorst, fitDoubt*math.Abs(ratio-1)))
}
