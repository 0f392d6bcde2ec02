package scene

import (
	"math"
	"math/bits"

	"nightfloor/dsp/fft"
)

// blocks makes noise: complex Gaussian bins shaped by the density, transformed
// to samples, one block after the other. The density hardly changes within a
// block's resolution (rate/block, 4 kHz), so that its samples are correlated
// over a few neighbours only, and the seams between blocks do not show: the
// spectrum is the density averaged over that resolution.
//
// Its modulation by the mains changes from block to block, every quarter of a millisecond.
type blocks struct {
	rate   float64
	gauss  *gauss
	fft    *fft.FFT
	re, im []float32
	steady [block]float64              // power per bin and component
	swing  [block]float64              // by how much it rises where the mains' envelope is twice its mean
	shapes [swingSteps/2 + 1][]float32 // amplitudes by step of the envelope, which is symmetric
}

func newBlocks(rate float64, g *gauss) blocks {
	b := blocks{rate: rate, gauss: g, fft: fft.New(block)}
	b.re, b.im = make([]float32, block), make([]float32, block)
	for i := range b.shapes {
		b.shapes[i] = make([]float32, block)
	}
	return b
}

// shape sets the amplitudes for the view at time t. A component of a bin of
// density S has the variance S·rate/(2·block): the sum over all bins of both
// components is the power S·rate.
func (b *blocks) shape(s *synth, t float64) {
	full := fullScalePower(s.view.gain)
	unit := b.rate / (2 * block)
	for k := range block {
		offset := float64((k+block/2)%block-block/2) / block
		d := s.world.noise(s.view.at, s.lo+offset*b.rate, t)
		filter := droop(offset) / full
		b.steady[k] = unit * (filter*d.total() + converterNoise(b.rate))
		b.swing[k] = unit * filter * d.swing
	}
	for i, shape := range b.shapes {
		for k := range shape {
			shape[k] = float32(math.Sqrt(b.steady[k] + envelopeSteps[i]*b.swing[k]))
		}
	}
}

// make adds a hop of noise to the output.
//
//go:norace
func (b *blocks) make(s *synth) {
	for at := 0; at < hop; at += block {
		step := envelopeStep(mains(s.seconds(s.frameStart + int64(at+block/2))))
		b.gauss.fill(b.re, b.im, b.shapes[min(step, swingSteps-step)])
		b.fft.Transform(b.im, b.re)
		addUp(s.outRe[at:at+block], b.re)
		addUp(s.outIm[at:at+block], b.im)
	}
}

// quantiles is the size of the table of the normal distribution.
const quantiles = 1 << 13

// A gauss draws normal numbers from a table of quantiles of equal probability,
// four for each 64 random bits. The table ends at 4 sigma; second and fourth
// moment are those of the normal distribution, so that powers scatter as they
// should, and the transform that follows adds up some hundred of them, which
// brings the tails back.
type gauss struct {
	state uint64
	table [quantiles]float32
}

//go:norace
func newGauss(seed uint64) *gauss {
	g := &gauss{state: seed}
	half := quantiles / 2
	var second, fourth float64
	x := make([]float64, half)
	for i := range x {
		x[i] = math.Sqrt2 * math.Erfinv((float64(i)+0.5)/float64(half))
		second += x[i] * x[i]
		fourth += math.Pow(x[i], 4)
	}
	// The middle of an interval falls short of the mean of its fourth powers: the outermost
	// value is raised until the fourth moment is 3 times the square of the second. Then
	// all are scaled so that the second is 1.
	last := x[half-1]
	for range 20 {
		want := 3 * second * second / float64(half)
		next := math.Pow(max(1, want-fourth+math.Pow(last, 4)), 0.25)
		second += next*next - last*last
		fourth += math.Pow(next, 4) - math.Pow(last, 4)
		last = next
	}
	x[half-1] = last
	scale := math.Sqrt(float64(half) / second)
	for i, v := range x {
		g.table[i], g.table[half+i] = float32(scale*v), float32(-scale*v)
	}
	return g
}

// Constants of the generator: two odd numbers whose bits have no pattern.
const (
	weylStep = 0x9e3779b97f4a7c15
	mixA     = 0xd1342543de82ef95
)

// fill sets re and im to normal numbers times the amplitudes. The generator is a
// Weyl sequence mixed by one wide multiplication.
//
//go:norace
func (g *gauss) fill(re, im, amplitude []float32) {
	im, amplitude = im[:len(re)], amplitude[:len(re)]
	state, table := g.state, &g.table
	for i := 0; i+1 < len(re); i += 2 {
		state += weylStep
		high, low := bits.Mul64(state, state^mixA)
		r := high ^ low
		a, b := amplitude[i], amplitude[i+1]
		re[i] = a * table[r&(quantiles-1)]
		im[i] = a * table[r>>16&(quantiles-1)]
		re[i+1] = b * table[r>>32&(quantiles-1)]
		im[i+1] = b * table[r>>48&(quantiles-1)]
	}
	g.state = state
}
