package dsp

import "math"

// averages are the mean powers by column of everything measured so far, summed
// in two halves that take turns of halfTurn frames. What is free is chosen
// on one half and averaged on the other: a bin cannot be picked for the very
// fluctuation that is then counted, so the choice does not bias the mean.
type averages struct {
	sum         [2][]float64 // Σ|X|² by column
	frames      [2]int
	fresh       [2][]float32 // Σ|X|² of the chunk in hand
	freshFrames [2]int
	gain        []float64    // by column: takes the receiver's droop out
	half        [2][]float64 // mean power, droop out, of each half
	all         []float64    // of both
	looks       float64      // frames of a half worth of independent ones
}

// halfTurn is how many frames a half takes in turn. Neighbouring frames share
// half their samples, so that turns of one frame would tie the halves together.
const halfTurn = 4

// overlapLoss is by how much fewer independent looks half-overlapping Hann
// frames are worth: 1 + 2·(1/6)² [Welch:1967].
const overlapLoss = 1 + 2.0/36

func newAverages(bins int, gain []float64) *averages {
	a := &averages{gain: gain, all: make([]float64, bins)}
	for h := range 2 {
		a.sum[h], a.half[h] = make([]float64, bins), make([]float64, bins)
		a.fresh[h] = make([]float32, bins)
	}
	return a
}

func (a *averages) reset() {
	a.frames = [2]int{}
	a.freshFrames = [2]int{}
	for h := range 2 {
		clear(a.sum[h])
		clear(a.fresh[h])
	}
}

// total counts the frames averaged.
func (a *averages) total() int { return a.frames[0] + a.frames[1] }

// add sums one frame, number n of the recording, into its half of the chunk in
// hand: single precision is enough for the few dozen frames of a chunk.
func (a *averages) add(n int, re, im []float32) {
	h := n / halfTurn & 1
	a.freshFrames[h]++
	sum := a.fresh[h][:len(re)]
	im = im[:len(re)]
	for b, r := range re {
		i := im[b]
		sum[b] += r*r + i*i
	}
}

// fold closes the chunk in hand: its sums go to the whole, its mean power by
// column, droop out, to chunk.
func (a *averages) fold(chunk []float64) {
	scale := 1 / float64(max(1, a.freshFrames[0]+a.freshFrames[1]))
	for b := range chunk {
		p, q := float64(a.fresh[0][b]), float64(a.fresh[1][b])
		a.sum[0][b] += p
		a.sum[1][b] += q
		chunk[b] = (p + q) * scale * a.gain[b]
	}
	for h := range 2 {
		clear(a.fresh[h])
		a.frames[h] += a.freshFrames[h]
		a.freshFrames[h] = 0
	}
}

// mean works out the mean powers. With a single half (a recording of one or
// two frames) both halves are the same.
func (a *averages) mean() {
	for h := range 2 {
		from := h
		if a.frames[h] == 0 {
			from = 1 - h
		}
		scale := 1 / float64(max(1, a.frames[from]))
		for b, s := range a.sum[from] {
			a.half[h][b] = s * scale * a.gain[b]
		}
	}
	scale := 1 / float64(max(1, a.total()))
	for b := range a.all {
		a.all[b] = (a.sum[0][b] + a.sum[1][b]) * scale * a.gain[b]
	}
	a.looks = float64(max(1, a.total())) / 2 / overlapLoss
	a.looks /= a.burstiness()
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
