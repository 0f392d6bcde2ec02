package spectrum

import (
	"math"

	"nightfloor/dsp/fft"
)

// Averages are the mean powers by column of everything measured so far, summed
// in two halves that take turns of halfTurn frames. What is free is chosen
// on one half and averaged on the other: a bin cannot be picked for the very
// fluctuation that is then counted, so the choice does not bias the mean.
//
// Frames left out for what is foreign in them are summed apart, for only at the
// end is it known whether that was so.
type Averages struct {
	Frames [2]int       // averaged, of each half
	Gain   []float64    // by column: takes the receiver's droop out
	Halves [2][]float64 // mean power, droop out, of each half
	Mean   []float64    // of both
	Looks  float64      // frames of a half worth of independent ones

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

// moveFrom moves what another has.
func (p *powerSum) moveFrom(from *powerSum) {
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

// halfFrames is how many frames a half takes in turn. Neighbouring frames share
// half their samples, so that turns of one frame would tie the halves together.
const halfFrames = 4

// NewAverages readies the averages of so many columns, whose powers gain multiplies.
func NewAverages(bins int, gain []float64) *Averages {
	a := &Averages{Gain: gain, Mean: make([]float64, bins),
		kept: newPowerSum(bins), left: newPowerSum(bins), pending: newPowerSum(bins)}
	for h := range 2 {
		a.Halves[h], a.fresh[h] = make([]float64, bins), make([]float32, bins)
	}
	return a
}

// Reset forgets the recording.
func (a *Averages) Reset() {
	a.Frames, a.freshFrames = [2]int{}, [2]int{}
	a.kept.reset()
	a.left.reset()
	a.pending.reset()
	for h := range 2 {
		clear(a.fresh[h])
	}
}

// Total counts the frames averaged.
func (a *Averages) Total() int { return a.Frames[0] + a.Frames[1] }

// LeftOut counts the frames that are not averaged.
func (a *Averages) LeftOut() int {
	n := -a.Total()
	for _, p := range []*powerSum{&a.kept, &a.left, &a.pending} {
		n += p.frames[0] + p.frames[1]
	}
	return n
}

// ResolvePending tells what becomes of the frames that were pending.
func (a *Averages) ResolvePending(foreign bool) {
	if foreign {
		a.left.moveFrom(&a.pending)
	} else {
		a.kept.moveFrom(&a.pending)
	}
}

// Add sums one frame, number n of the recording, into its half of the chunk in
// hand: single precision is enough for the few dozen frames of a chunk.
func (a *Averages) Add(n int, re, im []float32, v Verdict) {
	h := n / halfFrames & 1
	if v != Kept {
		a.addApart(h, re, im, v)
		return
	}
	a.freshFrames[h]++
	fft.AddPowers(a.fresh[h], re, im)
}

// addApart sums a frame that is not averaged, or not yet.
func (a *Averages) addApart(h int, re, im []float32, v Verdict) {
	to := &a.left
	if v == Pending {
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

// CloseChunk closes the chunk in hand: its sums go to the whole, its mean power by
// column, droop out, to chunk. Where it has none, what was left out so far speaks
// for it.
func (a *Averages) CloseChunk(chunk []float64) {
	if n := a.left.frames[0] + a.left.frames[1]; a.freshFrames == [2]int{} && n > 0 {
		for b := range chunk {
			chunk[b] = (a.left.sum[0][b] + a.left.sum[1][b]) / float64(n) * a.Gain[b]
		}
		return
	}
	scale := 1 / float64(max(1, a.freshFrames[0]+a.freshFrames[1]))
	for b := range chunk {
		p, q := float64(a.fresh[0][b]), float64(a.fresh[1][b])
		a.kept.sum[0][b] += p
		a.kept.sum[1][b] += q
		chunk[b] = (p + q) * scale * a.Gain[b]
	}
	for h := range 2 {
		clear(a.fresh[h])
		a.kept.frames[h] += a.freshFrames[h]
		a.freshFrames[h] = 0
	}
}

// Average works out the mean powers, of the frames left out as well if everything
// is to count. With a single half (a recording of one or two frames) both halves
// are the same.
func (a *Averages) Average(everything bool) {
	part := 0.0
	a.Frames = a.kept.frames
	if everything {
		part = 1
		for h := range 2 {
			a.Frames[h] += a.left.frames[h]
		}
	}
	for h := range 2 {
		from := h
		if a.Frames[h] == 0 {
			from = 1 - h
		}
		scale := 1 / float64(max(1, a.Frames[from]))
		left := a.left.sum[from]
		for b, s := range a.kept.sum[from] {
			a.Halves[h][b] = (s + part*left[b]) * scale * a.Gain[b]
		}
	}
	if a.Total() > 0 {
		w := float64(a.Frames[0]) / float64(a.Total())
		for b := range a.Mean {
			a.Mean[b] = w*a.Halves[0][b] + (1-w)*a.Halves[1][b]
		}
	}
	a.Looks = float64(max(1, a.Total())) / 2 / fft.OverlapLoss
	a.Looks /= a.burstiness()
}

// LeftShare gives by how much the frames left out would raise the mean power of
// the free columns from…to of those kept.
func (a *Averages) LeftShare(free []bool, from, to int) float64 {
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
func (a *Averages) burstiness() float64 {
	const many = 8
	if a.Looks < many || a.Frames[0] == 0 || a.Frames[1] == 0 {
		return 1
	}
	// Counting stands for sorting: the share beyond the expected quartile.
	var beyond [burstSteps]int
	unit := 0.4769 / math.Sqrt(a.Looks) / 4
	for b, p := range a.Halves[0] {
		q := a.Halves[1][b]
		if d := math.Abs(p-q) / (p + q) / unit; d < burstSteps {
			beyond[int(d)]++
		} else {
			beyond[burstSteps-1]++
		}
	}
	below := 0
	for k, n := range beyond {
		if below += n; 2*below >= len(a.Mean) {
			middle := float64(k) + 1 - float64(below-len(a.Mean)/2)/float64(n)
			return max(1, middle*middle/16)
		}
	}
	return 1
}

// burstSteps is how finely the halves' differences are counted: quarters of the
// expected median.
const burstSteps = 64
