package floor

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"nightfloor/dsp/spectrum"
)

// CarrierOver is the power ratio in one resolution from which a line is
// a carrier: every line of 10 dB is to be found, and half a second tells its
// level to 0.25 dB; so 10 dB less twice that.
const CarrierOver = 8.91

// guards are tried in turn, until enough of a band stays free (METHODS.md 5.1).
var guards = [Levels]struct {
	guard
	free   float64 // share of the band's columns that must stay
	hidden float64 // standard error, relative, for what sidebands still add
}{
	{guard{radius: 5000, over: CarrierOver}, 0.10, 0},
	// Audio ends at 4.5 kHz, but its filters are not steep: where every slot of
	// the raster is taken the 600 Hz left between two read 0.025 dB high.
	{guard{radius: 4700, over: 30}, 0.03, 0.005},
	// Nothing but what the search for excess finds. A block of 5 kHz is found
	// from 8 % of the noise up; a quarter of that, for they seldom fill a band.
	{guard{radius: 0, over: math.Inf(1)}, 0, 0.02},
}

// Levels is how many guards there are for lines, from the widest to none.
const Levels = 3

// FewestColumns must stay free, else less is guarded: with fewer the floor scatters by more
// than the sidebands add that the search for excess leaves. Chosen.
const FewestColumns = 40

// An Estimate is the floor of a band as the spectrum tells it.
type Estimate struct {
	Power     float64 // by column
	Occupancy float64 // share of the columns that are taken
	OK        bool
	Crowded   bool    // why it is not ok, or rests on little
	variance  float64 // relative, of steady noise
	inflation float64 // factor by which bursts raise it
	frames    int
	close     bool // lines have no room for their sidebands
	stations  bool // lines and their room take enough of the band for programmes to be looked for
}

// Under a share of a band of crowdedShare, or crowdedColumns, its floor is not told. Chosen.
const (
	crowdedShare   = 0.01
	crowdedColumns = 4
)

// mostOfAll is how many times the power of all that is in a band its noise may seem to have. No noise
// has more than that: what is free are then the skirts of a signal, spread over the band. Noise
// alone scatters by far less. Chosen; the case a75f18c55e9c6026 of FuzzMeasure.
const mostOfAll = 2

// Measure measures the floor of the columns from…to with the mask last made; ok is false
// where it leaves too little for its level, and the next level is to be tried. rough is
// the rough floor by column, which stands in for that of a crowded band.
func (m *Masker) Measure(a *spectrum.Averages, rough []float64, from, to int) (f Estimate, ok bool) {
	mask := &m.mask
	guard := guards[m.level]
	power, free := meanOfFree(a, mask, from, to)
	share := float64(free) / float64(to-from)
	if m.level < Levels-1 && (share < guard.free || free < FewestColumns) {
		return Estimate{}, false
	}
	f = Estimate{Power: power, variance: freeVariance(a, mask, from, to), Occupancy: 1 - share,
		frames: a.Total(), close: m.level == Levels-1, Crowded: share < crowdedShare || free < crowdedColumns}
	f.OK = !f.Crowded && f.Power > 0 // silence has no floor
	if f.OK {
		var filled float64
		f.Power, filled = m.filled(a, from, to)
		weak := m.hiddenByWeak(from, to, free)
		f.variance = max(f.variance, filled) + guard.hidden*guard.hidden + weak*weak
		f.Crowded = f.Power > mostOfAll*floats.Sum(a.Mean[from:to])/float64(to-from)
	}
	f.inflation = inflation(a, mask, from, to, free)
	f.stations = f.close || m.takenByLines(from, to) >= unrestFrom
	f.Crowded = f.Crowded || math.IsInf(f.variance*f.inflation, 1) // nothing tells how far it errs
	f.OK = f.OK && !f.Crowded
	if f.Crowded {
		f.Power = rough[(from+to)/2]
	}
	return f, true
}

// weakShare is the power, over that of a weak line, of what its sidebands and lines too weak to be
// found hold, in columns: a tenth of a station's power is in its sidebands, up to four tenths,
// 1.5 columns of Hann's bandwidth; where weak lines are there are weaker ones, as many in 10 dB.
// METHODS.md 5.1; TestWeakStationsCount.
const weakShare = 0.3

// hiddenByWeak gives the relative error of the free columns of from…to for what weak lines hide.
func (m *Masker) hiddenByWeak(from, to, free int) (share float64) {
	for _, l := range m.weak {
		if int(l.Column) >= from && int(l.Column) < to {
			share += weakShare * min(l.Over, CarrierOver) / float64(free)
		}
	}
	return share
}

// takenByLines gives the share of the columns from…to that lines and their room take.
func (m *Masker) takenByLines(from, to int) float64 {
	n := 0
	for _, taken := range m.mask.fixed[from:to] {
		if taken {
			n++
		}
	}
	return float64(n) / float64(to-from)
}

// edgeShare is by how much the mean is in doubt because the half frames at both
// ends count less: in standard deviations of the noise's power over time, times
// the share of one hop in the recording. Bursts of 0.3 duty, 120 a second at any
// phase, gave 0.21 over 100 simulated readings (METHODS.md 5.8; TestErrorOfBurstsAtTheEnds).
const edgeShare = 0.22

// Sigma gives the relative standard error of the floor, variation being that of
// the noise's power over time: the variance of the mean of noise of power p(t)
// is mean(p²)/mean(p)² times that of steady noise.
func (f *Estimate) Sigma(variation float64) float64 {
	edge := edgeShare / float64(max(1, f.frames))
	return math.Sqrt(f.variance*max(f.inflation, 1+variation) + variation*edge*edge)
}

// halvesApart is from how many standard errors on the halves of the recording differ in how the whole
// band stands to its free columns: then the course of one of them went wrong, where little is left to lay it through. Noise is
// beyond in 3 of 1,000. TestCrowdedFloorIsHonest (10 kHz, 60 %).
const halvesApart = 3

// filled gives the mean power of a band over all its columns and its relative variance, that of
// the course of the noise, gaps included. What is free counts, and under the signals the local
// noise, interpolated over frequency, so that it does not matter whether they sit on the high or
// the low side of a noise that is not level. What one half tells to be taken is filled in the
// other, with its own noise.
func (m *Masker) filled(a *spectrum.Averages, from, to int) (power, variance float64) {
	var sum, weight, apart float64
	for h := range 2 {
		frames := float64(max(1, a.Frames[h]))
		var open, gaps, columns float64
		for b := from; b < to; b++ {
			if m.mask.taken[1-h][b] {
				gaps += m.mask.noise[h][b]
			} else {
				open += a.Halves[h][b]
				columns++
			}
		}
		sum, weight = sum+frames*(open+gaps), weight+frames
		apart = (open+gaps)*columns/max(open, math.SmallestNonzeroFloat64) - apart
	}
	all := sum / weight
	// What one half tells scatters on its own, what is undecided is so in both.
	variance = (m.line.Variance(from, to)/2 + m.line.AmbiguityVariance(from, to)) / (all * all)
	apart /= 2 * float64(to-from)
	if apart*apart > halvesApart*halvesApart*variance {
		variance = apart * apart
	}
	return all / float64(to-from), variance
}
