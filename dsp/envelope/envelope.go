package envelope

import (
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
)

// A bandEnvelope tells how strong the noise is from millisecond to millisecond, in free
// channels about 10 kHz wide: how far it is from Gaussian (vd), how strong it is between
// bursts (quiet), and when short pulses came. Buffers are reused.
type bandEnvelope struct {
	channelChoice
	filter  *Filter
	sum     []float64 // by channel sample: power, all channels weighed alike
	total   []float64 // running total of sum
	rate    float64   // samples of sum a second
	power   float64   // mean of sum, what is skipped not counted
	skip    []bool    // frames of the last stretch that were skipped
	blocks  []float64
	sorted  []float64
	turns   []complex128
	pulses  []Event // of the last stretch. Where they come at 20 a second or more they are continuous noise
	stretch int     // counts the stretches
	sums    envelopeSums
}

// envelopeSums are the figures of the stretches, each times its seconds.
type envelopeSums struct {
	seconds, width    float64
	square, amplitude float64 // of the amplitude
	power, quiet      float64 // of the stretches whose quiet level is known, what was skipped not counted
}

// reset begins a new reading.
func (e *bandEnvelope) reset() {
	e.stretch, e.sums = 0, envelopeSums{}
}

// add looks at a stretch. free tells the columns without signals, skip the frames that hold
// what is foreign, nil for none: these are skipped where the quiet level and the power are
// concerned, but not for Vd and pulses. It gives false where no channel fits into the free
// columns, or the stretch is shorter than three frames.
func (e *bandEnvelope) add(s *spectrum.Spectrogram, free, skip []bool) bool {
	if len(free) != s.Bins {
		panic("envelope: mask of another length than the spectrogram")
	}
	e.choose(free, s.BinWidth(), 1)
	e.firsts = spread(e.firsts, mostChannels)
	if e.bins == 0 || s.Frames < 3 {
		return false
	}
	if e.filter == nil || e.filter.Bins() != e.bins {
		e.filter = NewFilter(e.bins)
	}
	e.rate, e.skip = e.filter.Rate(s), skip
	amplitude, ratio, ok := e.amplitudes(s)
	if !ok {
		return false
	}
	seconds := float64(len(e.sum)) / e.rate
	e.stretch++
	e.sums.seconds += seconds
	e.sums.width += seconds * e.filter.Width(s)
	e.sums.square += seconds * ratio * amplitude * amplitude
	e.sums.amplitude += seconds * amplitude
	if quiet := e.quietShare(e.findPulses()); quiet > 0 {
		e.sums.power += seconds * e.power
		e.sums.quiet += seconds * e.power * quiet
	}
	return true
}

// amplitudes goes through the channels and fills sum, and power, the mean of theirs. It gives
// the mean amplitude |y|, and the mean |y|² over its square. All are geometric means over
// channels, so that a slope of the noise does not count as unsteadiness. ok is false where
// a channel is wholly silent.
func (e *bandEnvelope) amplitudes(s *spectrum.Spectrogram) (amplitude, ratio float64, ok bool) {
	n := e.filter.Length(s)
	e.sum = slices.Grow(e.sum[:0], n)[:n]
	clear(e.sum)
	channels := float64(len(e.firsts))
	var logAmplitude, logRatio, logPower float64
	for _, first := range e.firsts {
		re, im := e.filter.Take(s, first)
		p, a, usual := e.means(re, im)
		if !(p > 0) { // nothing at all: silence in a file
			return 0, 0, false
		}
		logRatio += math.Log(p / (a * a))
		logAmplitude += math.Log(a)
		logPower += math.Log(usual)
		scale := 1 / (usual * channels)
		for i, r := range re {
			e.sum[i] += float64(r*r+im[i]*im[i]) * scale
		}
	}
	e.power = math.Exp(logPower / channels)
	for i := range e.sum {
		e.sum[i] *= e.power
	}
	return math.Exp(logAmplitude / channels), math.Exp(logRatio / channels), true
}

// means gives the means of a channel's |y|² and |y|, and that of the |y|² which
// are not skipped; where all are, of all.
func (e *bandEnvelope) means(re, im []float32) (power, amplitude, usual float64) {
	half := len(e.filter.workRe) / 2
	counted := 0
	for from := 0; from < len(re); from += half {
		to := min(from+half, len(re))
		var p, a float64
		for i, r := range re[from:to] {
			square := float64(r*r + im[from+i]*im[from+i])
			p += square
			a += math.Sqrt(square)
		}
		power, amplitude = power+p, amplitude+a
		if !e.skips(from, to) {
			usual += p
			counted += to - from
		}
	}
	n := float64(len(re))
	power, amplitude = power/n, amplitude/n
	if counted == 0 || usual == 0 {
		return power, amplitude, power
	}
	return power, amplitude, usual / float64(counted)
}

// skips tells whether any of the samples from…to lies in a frame to skip; sample
// 0 lies in the middle of frame 0, where frame 1 begins.
func (e *bandEnvelope) skips(from, to int) bool {
	if e.skip == nil {
		return false
	}
	half := len(e.filter.workRe) / 2
	for f := from / half; f <= (to-1)/half+1 && f < len(e.skip); f++ {
		if e.skip[f] {
			return true
		}
	}
	return false
}

// fillBlocks fills blocks with the means of length samples of sum each.
func (e *bandEnvelope) fillBlocks(length int) {
	e.blocks = e.blocks[:0]
	for i := 0; i+length <= len(e.sum); i += length {
		e.blocks = append(e.blocks, e.meanOf(i, i+length))
	}
}

// BlockLength gives the channel samples in a stretch of seconds, at least one.
func BlockLength(rate, seconds float64) int { return max(1, int(math.Round(seconds*rate))) }

// vd gives the ratio of the rms to the mean of the noise's amplitude in dB, and
// the noise bandwidth in Hz in which it was seen: 1.05 dB (20·log10(2/√π)) for
// Gaussian noise, more for bursts and pulses. ok is false where no channel was
// free.
func (e *bandEnvelope) vd() (db, width float64, ok bool) {
	s := &e.sums
	if s.seconds == 0 {
		return 0, 0, false
	}
	return 10 * math.Log10(s.square*s.seconds/(s.amplitude*s.amplitude)), s.width / s.seconds, true
}

// quiet gives the noise's power between bursts over its mean (isolated pulses
// not counted in it): 1 for steady noise. ok is false where no channel was free or
// the reading has fewer than ten blocks of a millisecond.
func (e *bandEnvelope) quiet() (ratio float64, ok bool) {
	if e.sums.power == 0 {
		return 0, false
	}
	return e.sums.quiet / e.sums.power, true
}
