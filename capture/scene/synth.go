package scene

import (
	"math"
	"math/rand/v2"

	"nightfloor/dsp/fft"
)

// Sizes of the synthesis, in samples.
//
// Lines with their sidebands are made in frames that overlap by a ramp. A frame
// is an inverse FFT; each line fills a channel of it, points bins wide, by way of
// its envelope at points instants (channel.go). Noise is made in blocks without
// overlap (blocks.go).
const (
	frame        = 4096
	ramp         = 512
	hop          = frame - ramp
	points       = 64
	pointSpacing = frame / points // samples between two instants of a channel
	block        = 256
)

// How often the scene's slow parts are looked up, in hops: fading, whose Doppler
// shifts are a few hertz at most, and levels, which take minutes to change.
const (
	fadingHops = 8
	levelHops  = 256
)

// A synth makes a view's samples, a hop at a time.
//
// The race detector makes arithmetic take ten times as long. What is done for each sample is
// marked go:norace, therefore; two goroutines in it at a time would meet in next, which is not.
type synth struct {
	analogFaults
	world  *world
	rate   float64
	speech []float32
	voice  []complex64
	turns  *sineTable

	view       view
	lo         float64 // Hz, the centre as realised
	frameStart int64   // index of the sample at which the next frame begins
	hops       int     // since the start

	overs    overs
	channels []channel
	combs    []comb
	blocks   blocks
	clicks   clicks

	fft          *fft.FFT
	re, im       []float32 // the frame; its first hop samples are the output
	tailRe       []float32 // ramp samples that the next frame is added to
	tailIm       []float32
	window       []float32 // the rising half, ramp values
	narrow       channelMaker
	outRe, outIm []float32

	// Of the comb in hand, at the frame's instants: phases of the fundamental and
	// of the centre, and the envelope.
	fundamental, centre [points]phase
	burst               [points]float32
}

func newSynth(w *world, rate float64, source *rand.PCG) *synth {
	s := &synth{analogFaults: newAnalogFaults(), world: w, rate: rate, turns: newSineTable(), fft: fft.New(frame)}
	s.speech, s.voice = newSpeech(rate/pointSpacing), newVoice(rate/pointSpacing)
	s.re, s.im = make([]float32, frame), make([]float32, frame)
	s.tailRe, s.tailIm = make([]float32, ramp), make([]float32, ramp)
	s.outRe, s.outIm = make([]float32, hop), make([]float32, hop)
	s.window = risingHalf(ramp)
	s.narrow = newChannelMaker()
	s.overs, s.channels = newOvers(), make([]channel, 0, len(w.stations)+64)
	s.combs = make([]comb, 0, len(w.supplies))
	s.blocks = newBlocks(rate, newGauss(source.Uint64()))
	s.clicks = clicks{random: rand.New(rand.NewPCG(source.Uint64(), 0x636c69636b))}
	return s
}

// risingHalf gives a ramp whose square and its mirror image's square add up to
// 1: sin(π/2·sin²(πx/2)), smooth to the second derivative at both ends.
func risingHalf(n int) []float32 {
	w := make([]float32, n)
	for i := range w {
		s := math.Sin(math.Pi / 2 * (float64(i) + 0.5) / float64(n))
		w[i] = float32(math.Sin(math.Pi / 2 * s * s))
	}
	return w
}

// start begins anew at the sample of the given index. The frame before it is made too,
// since its tail overlaps the first frame.
func (s *synth) start(v view, index int64) {
	s.view, s.lo, s.hops = v, v.centre*(1+clockError), 0
	s.frameStart = index - hop
	s.levels()
	s.lines()
	s.frameStart = index
}

// seconds gives the scene's time at a sample.
func (s *synth) seconds(index int64) float64 { return float64(index) / s.rate }

// next makes a hop of samples.
func (s *synth) next() {
	if s.hops > 0 && s.hops%levelHops == 0 {
		s.levels()
	} else if s.hops > 0 && s.hops%fadingHops == 0 {
		s.setFading(s.seconds(s.frameStart))
	}
	s.lines()
	s.blocks.make(s)
	s.clicks.add(s)
	s.frameStart += hop
	s.hops++
}

// levels looks up what is on, and how strong it is, for the next hops.
func (s *synth) levels() {
	t := s.seconds(s.frameStart)
	s.tuneChannels(t)
	s.tuneCombs(t)
	s.blocks.shape(s, t)
	s.clicks.shape(s, t)
}

// lines makes the next frame and puts its hop, without noise, into the output.
//
//go:norace
func (s *synth) lines() {
	clear(s.re)
	clear(s.im)
	for i := range s.channels {
		s.fillStation(&s.channels[i])
	}
	for i := range s.combs {
		s.fillComb(&s.combs[i])
	}
	s.fft.Transform(s.im, s.re) // with real and imaginary part exchanged it is the inverse
	for i, w := range s.window {
		s.outRe[i] = s.tailRe[i] + w*s.re[i]
		s.outIm[i] = s.tailIm[i] + w*s.im[i]
		down := s.window[ramp-1-i]
		s.tailRe[i] = down * s.re[hop+i]
		s.tailIm[i] = down * s.im[hop+i]
	}
	copy(s.outRe[ramp:], s.re[ramp:hop])
	copy(s.outIm[ramp:], s.im[ramp:hop])
}

// inaudible is the level below which a line is left out: 30 dB below the noise
// in a bin of 100 Hz at the lowest useful gain.
const inaudible = -105 // dBFS

// scale gives the full-scale amplitude of a line of power mW at the terminal,
// at an offset from the centre; 0 where it is inaudible, or outside the sample rate.
func (s *synth) scale(power, offset float64) float64 {
	share := offset / s.rate
	a := math.Sqrt(power / fullScalePower(s.view.gain) * droop(share))
	if math.Abs(share) >= 0.5 || a < math.Pow(10, inaudible/20.0) {
		return 0
	}
	return a
}
