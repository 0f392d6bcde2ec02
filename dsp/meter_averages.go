package dsp

import (
	"math"

	"nightfloor/dsp/fft"
)

// averages are the mean powers by column of everything measured so far, summed
// in two halves that take turns of halfTurn frames. What is free is chosen
// on one half and averaged on the other: a bin cannot be picked for the very
// fluctuation that is then counted, so the choice does not bias the mean.
//
// Frames left out for what is foreign in them are summed apart, for only at the
// end is it known whether that was so.
type averages struct {
	frames [2]int       // averaged, of each half
	gain   []float64    // by column: takes the receiver's droop out
	half   [2][]float64 // mean power, droop out, of each half
	all    []float64    // of both
	looks  float64      // frames of a half worth of independent ones

	kept, left, pending powerSum
	fresh               [2][]float32 // Σ|X|² of the chunk's kept frames
	freshFrames         [2]int
}

// A powerSum is Σ|X|² by column of the frames of each half.
type powerSum struct {
	sum    [2][]float64
	frames [2]int
}

func newPowerSum(bins int) powerSum {
	return powerSum{sum: [2][]float64{make([]float64, bins), make([]float64, bins)}}
}

func (p *powerSum) reset() {
	p.frames = [2]int{}
	for h := range 2 {
		clear(p.sum[h])
	}
}

// take moves what another has.
func (p *powerSum) take(from *powerSum) {
	for h := range 2 {
		if from.frames[h] == 0 {
			continue
		}
		p.frames[h] += from.frames[h]
		for b, s := range from.sum[h] {
			p.sum[h][b] += s
		}
	}
	from.reset()
}

// halfTurn is how many frames a half takes in turn. Neighbouring frames share
// half their samples, so that turns of one frame would tie the halves together.
const halfTurn = 4

func newAverages(bins int, gain []float64) *averages {
	a := &averages{gain: gain, all: make([]float64, bins),
		kept: newPowerSum(bins), left: newPowerSum(bins), pending: newPowerSum(bins)}
	for h := range 2 {
		a.half[h], a.fresh[h] = make([]float64, bins), make([]float32, bins)
	}
	return a
}

func (a *averages) reset() {
	a.frames, a.freshFrames = [2]int{}, [2]int{}
	a.kept.reset()
	a.left.reset()
	a.pending.reset()
	for h := range 2 {
		clear(a.fresh[h])
	}
}

// total counts the frames averaged.
func (a *averages) total() int { return a.frames[0] + a.frames[1] }

// leftOut counts the frames that are not averaged.
func (a *averages) leftOut() int {
	n := -a.total()
	for _, p := range []*powerSum{&a.kept, &a.left, &a.pending} {
		n += p.frames[0] + p.frames[1]
	}
	return n
}

// settle tells what becomes of the frames that were pending.
func (a *averages) settle(foreign bool) {
	if foreign {
		a.left.take(&a.pending)
	} else {
		a.kept.take(&a.pending)
	}
}

// add sums one frame, number n of the recording, into its half of the chunk in
// hand: single precision is enough for the few dozen frames of a chunk.
func (a *averages) add(n int, re, im []float32, v verdict) {
	h := n / halfTurn & 1
	if v != kept {
		a.apart(h, re, im, v)
		return
	}
	a.freshFrames[h]++
	sum := a.fresh[h][:len(re)]
	im = im[:len(re)]
	for b, r := range re {
		i := im[b]
		sum[b] += r*r + i*i
	}
}

// apart sums a frame that is not averaged, or not yet.
func (a *averages) apart(h int, re, im []float32, v verdict) {
	to := &a.left
	if v == pending {
		to = &a.pending
	}
	to.frames[h]++
	sum := to.sum[h][:len(re)]
	im = im[:len(re)]
	for b, r := range re {
		i := im[b]
		sum[b] += float64(r*r + i*i)
	}
}

// fold closes the chunk in hand: its sums go to the whole, its mean power by
// column, droop out, to chunk. Where it has none, what was left out so far speaks
// for it.
func (a *averages) fold(chunk []float64) {
	if n := a.left.frames[0] + a.left.frames[1]; a.freshFrames == [2]int{} && n > 0 {
		for b := range chunk {
			chunk[b] = (a.left.sum[0][b] + a.left.sum[1][b]) / float64(n) * a.gain[b]
		}
		return
	}
	scale := 1 / float64(max(1, a.freshFrames[0]+a.freshFrames[1]))
	for b := range chunk {
		p, q := float64(a.fresh[0][b]), float64(a.fresh[1][b])
		a.kept.sum[0][b] += p
		a.kept.sum[1][b] += q
		chunk[b] = (p + q) * scale * a.gain[b]
	}
	for h := range 2 {
		clear(a.fresh[h])
		a.kept.frames[h] += a.freshFrames[h]
		a.freshFrames[h] = 0
	}
}

// mean works out the mean powers, of the frames left out as well if everything
// is to count. With a single half (a recording of one or two frames) both halves
// are the same.
func (a *averages) mean(everything bool) {
	part := 0.0
	a.frames = a.kept.frames
	if everything {
		part = 1
		for h := range 2 {
			a.frames[h] += a.left.frames[h]
		}
	}
	for h := range 2 {
		from := h
		if a.frames[h] == 0 {
			from = 1 - h
		}
		scale := 1 / float64(max(1, a.frames[from]))
		left := a.left.sum[from]
		for b, s := range a.kept.sum[from] {
			a.half[h][b] = (s + part*left[b]) * scale * a.gain[b]
		}
	}
	if a.total() > 0 {
		w := float64(a.frames[0]) / float64(a.total())
		for b := range a.all {
			a.all[b] = w*a.half[0][b] + (1-w)*a.half[1][b]
		}
	}
	a.looks = float64(max(1, a.total())) / 2 / fft.OverlapLoss
	a.looks /= a.burstiness()
}

// leftShare gives by how much the frames left out would raise the mean power of
// the free columns from…to of those kept.
func (a *averages) leftShare(free []bool, from, to int) float64 {
	var k, l float64
	for b := from; b < to; b++ {
		if free[b] {
			k += a.kept.sum[0][b] + a.kept.sum[1][b]
			l += a.left.sum[0][b] + a.left.sum[1][b]
		}
	}
	nk, nl := float64(a.kept.frames[0]+a.kept.frames[1]), float64(a.left.frames[0]+a.left.frames[1])
	if k <= 0 || nl == 0 {
		return 0
	}
	return (k+l)/(nk+nl)/(k/nk) - 1
}

// burstiness tells by how much the halves differ more, bin by bin, than those
// of steady noise: noise that comes in bursts has fewer independent values.
// |A − B|/(A + B) has median 0.4769/√looks where looks are many; lines, that
// do not differ, are few. It is 1 or more.
func (a *averages) burstiness() float64 {
	const many = 8
	if a.looks < many || a.frames[0] == 0 || a.frames[1] == 0 {
		return 1
	}
	// Counting stands for sorting: the share beyond the expected quartile.
	var beyond [burstSteps]int
	unit := 0.4769 / math.Sqrt(a.looks) / 4
	for b, p := range a.half[0] {
		q := a.half[1][b]
		if d := math.Abs(p-q) / (p + q) / unit; d < burstSteps {
			beyond[int(d)]++
		} else {
			beyond[burstSteps-1]++
		}
	}
	below := 0
	for k, n := range beyond {
		if below += n; 2*below >= len(a.all) {
			middle := float64(k) + 1 - float64(below-len(a.all)/2)/float64(n)
			return max(1, middle*middle/16)
		}
	}
	return 1
}

// burstSteps is how finely the halves' differences are counted: quarters of the
// expected median.
const burstSteps = 64
