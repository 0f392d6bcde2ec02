package envelope

import (
	"math"
	"slices"

	"nightfloor/dsp/stat"
	"nightfloor/dsp/transient"
)

// quietScales are how the level between bursts is looked for: in blocks of so many seconds,
// in the lowest share of them (METHODS.md 8.5). Bursts of mains-gated noise last
// milliseconds; where they leave gaps of a millisecond or less the finer scales see into
// these. What comes at random leaves gaps of any length, of which the shortest would tell
// nothing: the finer scales are for noise with the mains.
var quietScales = []struct{ block, share float64 }{{quietBlock, 0.2}, {0.5e-3, 0.1}, {0.25e-3, 0.05}, {0.25e-3, 0.03}}

const (
	quietBlock = 1e-3 // s, the coarsest scale; chosen
	// A finer scale counts where it lies so many of its standard errors under
	// the coarser one, so that the choice does not bias steady noise. Chosen.
	quietSigmas = 5.0
	// A finer scale averages fewer blocks, whose share is guessed: its relative standard
	// error is taken to be this at the least. Chosen.
	quietUncertain = 0.02
)

// quietShare gives the noise's level between bursts over the mean of all blocks that hold
// none of the pulses and are not skipped: 1 for steady noise. 0 where there are too few
// blocks.
func (e *bandEnvelope) quietShare(pulses []Event) float64 {
	level, mean := 0.0, 1.0
	for i, scale := range quietScales {
		length := BlockLength(e.rate, scale.block)
		e.fillBlocks(length)
		e.sorted = append(e.sorted[:0], e.blocks...)
		slices.Sort(e.sorted)
		if float64(len(e.sorted))*scale.share < 2 {
			break
		}
		shape := float64(len(e.firsts)) * e.filter.meanShape(length)
		low := e.lowest(shape, scale.share)
		if i == 0 {
			level, mean = low, e.meanWithout(pulses, length)
			if !e.withMains() {
				break
			}
			continue
		}
		error := math.Hypot(quietUncertain, 1/math.Sqrt(shape*scale.share*float64(len(e.sorted))))
		if low < level*(1-quietSigmas*error) {
			level = low
		}
	}
	return level / mean
}

// withMains tells whether the power swings with the mains: the blocks' powers less their
// mean are the weights of a Phasor.
func (e *bandEnvelope) withMains() bool {
	length := BlockLength(e.rate, quietScales[len(quietScales)-1].block)
	e.fillBlocks(length)
	mean := e.meanOf(0, len(e.sum))
	swing := stat.Phasor{}
	for i := range e.blocks {
		e.blocks[i] -= mean
		swing.Square += e.blocks[i] * e.blocks[i]
	}
	e.turns = slices.Grow(e.turns[:0], len(e.blocks))[:len(e.blocks)]
	for _, hz := range mainsFundamentals {
		stat.Turns(e.turns, 1, 0, hz*float64(length)/e.rate)
		if swing.Sum = stat.Dot(e.blocks, e.turns); swing.Power() > anyPower {
			return true
		}
	}
	return false
}

// lowest gives the level that the lowest share of the sorted blocks tells,
// corrected for the choice.
//
// The mean power of a block of Gaussian noise follows a gamma distribution of
// shape k, half its degrees of freedom. If all blocks are of one level, the
// lowest fifth of them have the mean P(k+1, x)/0.2 of it, P(k, x) = 0.2, P the
// regularised incomplete gamma function. If only a share q of the blocks lies
// between bursts, the lowest fifth of all is the lowest 0.2/q of those; q is
// twice the share of blocks under the quiet blocks' median.
func (e *bandEnvelope) lowest(shape, least float64) float64 {
	count := least * float64(len(e.sorted))
	var low float64
	for i := range int(math.Ceil(count)) {
		low += e.sorted[i] * min(1, count-float64(i))
	}
	low /= count
	level := low / stat.GammaLowestMean(shape, least)
	median := stat.GammaQuantile(shape, 0.5) / shape
	under, _ := slices.BinarySearch(e.sorted, level*median)
	share := min(1, max(least, 2*float64(under)/float64(len(e.sorted))))
	return low / stat.GammaLowestMean(shape, least/share)
}

// meanWithout gives the mean of the blocks of length samples, those skipped and those that
// isolated pulses touch left out, these where they come seldom.
func (e *bandEnvelope) meanWithout(pulses []Event, length int) float64 {
	e.fillBlocks(length)
	if float64(len(pulses)) >= transient.Continuous*float64(length*len(e.blocks))/e.rate {
		pulses = nil
	}
	var sum float64
	n := 0
	for i, b := range e.blocks {
		from, to := i*length, (i+1)*length
		for len(pulses) > 0 && pulses[0].Last+1 < from {
			pulses = pulses[1:]
		}
		if len(pulses) > 0 && pulses[0].First <= to || e.skips(from, to) {
			continue
		}
		sum += b
		n++
	}
	if n == 0 {
		return e.power
	}
	return sum / float64(n)
}
