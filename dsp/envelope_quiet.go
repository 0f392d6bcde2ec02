package dsp

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Figures of the level between bursts.
const (
	quietBlock  = 1e-3 // s: bursts of mains-gated noise last milliseconds
	quietLowest = 0.2  // share of the blocks that is taken for the level between bursts
)

// quietShare gives the mean of the lowest fifth of the blocks over the mean of
// all that hold no isolated pulse, corrected for the choice: 1 for steady noise.
// 0 where there are too few blocks.
//
// The mean power of a block of Gaussian noise follows a gamma distribution of
// shape k, half its degrees of freedom. If all blocks are of one level, the
// lowest fifth of them have the mean P(k+1, x)/0.2 of it, P(k, x) = 0.2, P the
// regularised incomplete gamma function. If only a share q of the blocks lies
// between bursts, the lowest fifth of all is the lowest 0.2/q of those; q is
// twice the share of blocks under the quiet blocks' median.
func (e *Envelope) quietShare(rate float64, pulses []Pulse, start float64) float64 {
	length := blockLength(rate, quietBlock)
	e.fillBlocks(length)
	if len(e.blocks) < 10 {
		return 0
	}
	mean := e.meanWithout(pulses, start, float64(length)/rate)
	shape := float64(len(e.firsts)) * e.shape(length)
	e.sorted = append(e.sorted[:0], e.blocks...)
	slices.Sort(e.sorted)
	count := quietLowest * float64(len(e.sorted))
	var low float64
	for i := range int(math.Ceil(count)) {
		low += e.sorted[i] * min(1, count-float64(i))
	}
	low /= count
	level := low / lowestMean(shape, quietLowest)
	median := gammaQuantile(shape, 0.5) / shape
	under, _ := slices.BinarySearch(e.sorted, level*median)
	share := min(1, max(quietLowest, 2*float64(under)/float64(len(e.sorted))))
	return low / lowestMean(shape, quietLowest/share) / mean
}

// meanWithout gives the mean of the blocks, those with isolated pulses left out
// where pulses come seldom.
func (e *Envelope) meanWithout(pulses []Pulse, start, seconds float64) float64 {
	if float64(len(pulses)) >= pulsesContinuous*seconds*float64(len(e.blocks)) {
		pulses = nil
	}
	var sum float64
	n := 0
	for i, b := range e.blocks {
		from := start + float64(i)*seconds
		for len(pulses) > 0 && pulses[0].At+pulses[0].Length < from {
			pulses = pulses[1:]
		}
		if len(pulses) > 0 && pulses[0].At <= from+seconds {
			continue
		}
		sum += b
		n++
	}
	if n == 0 {
		return 1
	}
	return sum / float64(n)
}

// lowestMean gives the mean of the lowest share of gamma distributed values of
// mean 1.
func lowestMean(shape, share float64) float64 {
	if share >= 1 {
		return 1
	}
	x := gammaQuantile(shape, share)
	return mathext.GammaIncReg(shape+1, x) / share
}

// gammaQuantile gives x with P(shape, x) = p: Newton's steps from the cube of
// Wilson and Hilferty, which is a few per cent off for shapes of 1 or more.
// (gonum's own inverse allocates.)
func gammaQuantile(shape, p float64) float64 {
	z := math.Sqrt2 * math.Erfinv(2*p-1)
	c := 1 - 1/(9*shape) + z/(3*math.Sqrt(shape))
	x := shape * max(1e-3, c*c*c)
	logGamma, _ := math.Lgamma(shape)
	for range 20 {
		density := math.Exp((shape-1)*math.Log(x) - x - logGamma)
		step := (mathext.GammaIncReg(shape, x) - p) / density
		step = max(-x, min(x/2, step)) // stays positive, at most doubles
		x -= step
		if math.Abs(step) < 1e-10*x {
			break
		}
	}
	return x
}
