package scene

import (
	"math"
	"math/rand/v2"

	"nightfloor/dsp/fft"
)

// speechLength is the number of values of the loop of speech: 8 s at 16 kHz.
const speechLength = 1 << 17

// newSpeech makes a loop of sound at a rate, like speech to a spectrum analyser:
// noise from 100 Hz to 4.5 kHz (PHYSICS.md 2.2), falling by 9 dB an octave over
// 500 Hz, its loudness swaying at syllables' pace. Its rms is 1.
//
// The loop ends where it begins; stations play it from different places. It
// repeats after more seconds than a reading lasts.
//
//go:norace
func newSpeech(rate float64) []float32 {
	re, im := make([]float32, speechLength), make([]float32, speechLength)
	r := rand.New(rand.NewPCG(1, 0x737065656368))
	bin := rate / speechLength
	for k := int(100 / bin); k <= int(4500/bin); k++ {
		octaves := max(0, math.Log2(float64(k)*bin/500))
		a := math.Pow(10, -9*octaves/20)
		re[k], im[k] = float32(a*r.NormFloat64()), float32(a*r.NormFloat64())
		re[speechLength-k], im[speechLength-k] = re[k], -im[k]
	}
	fft.New(speechLength).Transform(re, im)
	loud := newLoudness(r, rate)
	var power float64
	for i := range re {
		re[i] *= float32(loud.at(i))
		power += float64(re[i]) * float64(re[i])
	}
	scale := float32(1 / math.Sqrt(power/speechLength))
	for i := range re {
		re[i] *= scale
	}
	return re
}

// newVoice makes a loop of a voice in the upper sideband, as a transmitter sends it: noise from
// 300 Hz to 2.7 kHz over where the carrier would stand, its loudness swaying as that of
// newSpeech. Its rms is 1.
//
//go:norace
func newVoice(rate float64) []complex64 {
	re, im := make([]float32, speechLength), make([]float32, speechLength)
	r := rand.New(rand.NewPCG(1, 0x766f696365))
	bin := rate / speechLength
	for k := int(300 / bin); k <= int(2700/bin); k++ {
		// Transforms here run with the sign that takes a positive frequency to a negative one.
		re[speechLength-k], im[speechLength-k] = float32(r.NormFloat64()), float32(r.NormFloat64())
	}
	fft.New(speechLength).Transform(re, im)
	loud := newLoudness(r, rate)
	out := make([]complex64, speechLength)
	var power float64
	for i := range out {
		a := loud.at(i)
		x, y := a*float64(re[i]), a*float64(im[i])
		out[i], power = complex(float32(x), float32(y)), power+x*x+y*y
	}
	scale := complex(float32(1/math.Sqrt(power/speechLength)), 0)
	for i := range out {
		out[i] *= scale
	}
	return out
}

// A loudness sways at syllables' pace.
type loudness [5]struct{ turns, phase float64 }

func newLoudness(r *rand.Rand, rate float64) (l loudness) {
	for i := range l {
		l[i].turns = math.Round((2 + 4*r.Float64()) * speechLength / rate) // whole: the loop closes
		l[i].phase = 2 * math.Pi * r.Float64()
	}
	return l
}

// at gives the loudness at a value of the loop.
//
//go:norace
func (l *loudness) at(i int) float64 {
	loud := 1.0
	for _, s := range l {
		loud += 0.35 * math.Sin(2*math.Pi*s.turns*float64(i)/speechLength+s.phase)
	}
	return loud
}
