package scene

import (
	"math"

	"nightfloor/dsp/fft"
)

// blocks makes noise: complex Gaussian bins shaped by the density, transformed
// to samples, one block after the other. The density hardly changes within a
// block's resolution (rate/block, 4 kHz), so that its samples are correlated
// over a few neighbours only, and the seams between blocks do not show: the
// spectrum is the density averaged over that resolution.
//
// The mains modulate it from block to block, every quarter of a millisecond.
type blocks struct {
	rate   float64
	gauss  *gauss
	fft    *fft.FFT
	re, im []float32
	steady [block]float64              // power per bin and component
	swing  [block]float64              // what the mains modulate of it, at c = 1
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
func (b *blocks) make(s *synth) {
	for at := 0; at < hop; at += block {
		step := envelopeStep(mains(s.seconds(s.frameStart + int64(at+block/2))))
		b.gauss.fill(b.re, b.im, b.shapes[min(step, swingSteps-step)])
		b.fft.Transform(b.im, b.re)
		addUp(s.outRe[at:at+block], b.re)
		addUp(s.outIm[at:at+block], b.im)
	}
}
