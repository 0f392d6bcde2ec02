package spectrum

import (
	"math"

	"nightfloor/dsp/fft"
)

// Averages are the mean powers by column of the frames so far [Welch:1967, pp. 70-73], in
// two halves that take turns of halfFrames frames. What is free of signals is chosen on one
// half and averaged on the other, so that no bin is chosen for the very fluctuation that is
// then averaged. METHODS.md 3.1, 3.7.
//
// Frames left out for transients are summed apart: whether they count after all is known
// only at the end.
type Averages struct {
	Frames [2]int       // averaged, of each half
	Gain   []float64    // by column: takes the receiver's droop out
	Halves [2][]float64 // mean power, droop out, of each half
	Mean   []float64    // of both
	Looks  float64      // independent averages in each half

	kept, left, pending powerSum
	chunk               [2][]float32 // Σ|X|² of the current chunk's kept frames
	chunkFrames         [2]int
}

// A Verdict says whether a frame is averaged.
type Verdict uint8

// The verdicts.
const (
	Kept     Verdict = iota // it is averaged
	LeftOut                 // left out: it holds a pulse
	LeftLong                // left out: it holds a short transmission
	Pending                 // it begins something whose length the next chunk will show
)

// A powerSum is Σ|X|² by column of the frames of each half.
type powerSum struct {
	sum    [2][]float64
	frames [2]int
}

func newPowerSum(bins int) powerSum {
	return powerSum{sum: [2][]float64{make([]float64, bins), make([]float64, bins)}}
}

func (p *powerSum) total() int { return p.frames[0] + p.frames[1] }

func (p *powerSum) reset() {
	p.frames = [2]int{}
	for h := range 2 {
		clear(p.sum[h])
	}
}

// moveFrom adds the sums of another and resets it.
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

// halfFrames is the number of frames that go to one half before the other's turn.
// Neighbouring frames share half their samples, so that turns of one frame would correlate
// the halves. Chosen; METHODS.md 3.7, TestHalvesAreIndependent.
const halfFrames = 4

// NewAverages readies the averages of so many columns, whose powers gain multiplies.
func NewAverages(bins int, gain []float64) *Averages {
	a := &Averages{Gain: gain, Mean: make([]float64, bins),
		kept: newPowerSum(bins), left: newPowerSum(bins), pending: newPowerSum(bins)}
	for h := range 2 {
		a.Halves[h], a.chunk[h] = make([]float64, bins), make([]float32, bins)
	}
	return a
}

// Reset forgets the recording.
func (a *Averages) Reset() {
	a.Frames, a.chunkFrames = [2]int{}, [2]int{}
	a.kept.reset()
	a.left.reset()
	a.pending.reset()
	for h := range 2 {
		clear(a.chunk[h])
	}
}

// Total counts the frames averaged.
func (a *Averages) Total() int { return a.Frames[0] + a.Frames[1] }

// LeftOut counts the frames that are not averaged.
func (a *Averages) LeftOut() int {
	return a.kept.total() + a.left.total() + a.pending.total() - a.Total()
}

// ResolvePending moves the pending frames to those left out or to those kept.
func (a *Averages) ResolvePending(leaveOut bool) {
	if leaveOut {
		a.left.moveFrom(&a.pending)
	} else {
		a.kept.moveFrom(&a.pending)
	}
}

// Add adds frame n of the recording to its half of the current chunk. Single precision is
// enough for the few dozen frames of a chunk.
func (a *Averages) Add(n int, re, im []float32, v Verdict) {
	h := n / halfFrames & 1
	if v != Kept {
		a.addApart(h, re, im, v)
		return
	}
	a.chunkFrames[h]++
	fft.AddPowers(a.chunk[h], re, im)
}

// addApart adds a frame that is left out or pending.
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

// CloseChunk adds the current chunk to the recording and writes the chunk's mean power by
// column, droop taken out, to mean. A chunk without any kept frame has the mean of all
// frames left out so far.
func (a *Averages) CloseChunk(mean []float64) {
	if n := a.left.total(); a.chunkFrames == [2]int{} && n > 0 {
		for b := range mean {
			mean[b] = (a.left.sum[0][b] + a.left.sum[1][b]) / float64(n) * a.Gain[b]
		}
		return
	}
	scale := 1 / float64(max(1, a.chunkFrames[0]+a.chunkFrames[1]))
	for b := range mean {
		p, q := float64(a.chunk[0][b]), float64(a.chunk[1][b])
		a.kept.sum[0][b] += p
		a.kept.sum[1][b] += q
		mean[b] = (p + q) * scale * a.Gain[b]
	}
	for h := range 2 {
		clear(a.chunk[h])
		a.kept.frames[h] += a.chunkFrames[h]
		a.chunkFrames[h] = 0
	}
}

// Average computes the mean powers and looks, of the frames left out as well if everything
// counts. In a recording so short that it has only one half, both are the same.
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

// LeftShare gives the share by which the frames left out would raise the mean power of the
// free columns from … to−1.
func (a *Averages) LeftShare(free []bool, from, to int) float64 {
	var k, l float64
	for b := from; b < to; b++ {
		if free[b] {
			k += a.kept.sum[0][b] + a.kept.sum[1][b]
			l += a.left.sum[0][b] + a.left.sum[1][b]
		}
	}
	nk, nl := float64(a.kept.total()), float64(a.left.total())
	if k <= 0 || nl == 0 {
		return 0
	}
	return (k+l)/(nk+nl)/(k/nk) - 1
}

// burstiness gives the factor, at least 1, by which noise that comes in bursts has fewer
// looks than steady noise. |A − B|/(A + B) of the halves A and B has the median
// 0.4769/√looks where looks are many, 0.4769 = 0.6745/√2; the factor is the square of the
// median found over that. Lines do not differ between the halves, but are few. METHODS.md 3.8.
func (a *Averages) burstiness() float64 {
	const many = 8 // looks from which the median is as stated
	if a.Looks < many || a.Frames[0] == 0 || a.Frames[1] == 0 {
		return 1
	}
	// The median is found by counting, which is faster than selection.
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

// burstSteps bounds the differences counted, in quarters of the expected median: a factor of
// up to 16² is told.
const burstSteps = 64
