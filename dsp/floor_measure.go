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
		frames: m.averages.Total(), crowded: share < crowdedShare || sum.free < 4}
	f.ok = !f.crowded && f.power > 0 // silence has no floor
	if f.ok {
		fill := m.filled(w, mask)
		f.power = fill.power
		f.variance = max(f.variance*fill.spread, fill.variance) + guards[level].hidden*guards[level].hidden
	}
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

// A filling is the mean of a band over all its columns: what is free, and under
// the signals the local noise, interpolated over frequency.
type filling struct {
	power    float64 // by column
	variance float64 // relative: of the course of the noise, gaps included
	spread   float64 // variance of the free columns' mean against that of as many of equal level
}

// filled measures a band over all its columns, so that it does not matter whether
// signals sit on the high or the low side of a noise that is not level. What
// one half tells to be taken is filled in the other, with its own noise.
func (m *Meter) filled(w *bandWatch, mask *mask) filling {
	a := m.averages
	var sum, weight float64
	for h := range 2 {
		frames := float64(max(1, a.Frames[h]))
		taken, power, noise := mask.taken[1-h], a.Halves[h], mask.noise[h]
		total := 0.0
		for b := w.from; b < w.to; b++ {
			if taken[b] {
				total += noise[b]
			} else {
				total += power[b]
			}
		}
		sum, weight = sum+frames*total, weight+frames
	}
	f := filling{power: sum / weight / float64(w.to-w.from), spread: 1}
	// What one half tells scatters on its own, what is undecided is so in both.
	line, all := m.masker.line, f.power*float64(w.to-w.from)
	f.variance = (line.doubt(w.from, w.to)/2 + line.either(w.from, w.to)) / (all * all)
	return f
}
