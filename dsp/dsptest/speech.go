package dsptest

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
)

// A filtered is white noise through a filter.
type filtered struct {
	r      *rand.Rand
	filter []float64
	past   []float64 // a ring written twice over, so that a window lies in one piece
	at     int
}

// newFiltered makes one that is yet to be filled: its first values rest on silence.
func newFiltered(filter []float64, r *rand.Rand) *filtered {
	return &filtered{r: r, filter: filter, past: make([]float64, 2*len(filter))}
}

func (f *filtered) next() float64 {
	v, n := f.r.NormFloat64(), len(f.filter)
	f.past[f.at], f.past[f.at+n] = v, v
	f.at = (f.at + 1) % n
	return floats.Dot(f.filter, f.past[f.at:f.at+n])
}

// speech is audio of mean square 1 with the long-term spectrum of speech: flat
// to 500 Hz, falling above, cut at 4.5 kHz, its level varying as syllables do.
type speech struct {
	sound *filtered
	level slow
}

const (
	speechTaps = 161
	// syllable is the standard deviation of the level's natural logarithm: 6 dB.
	syllable = 0.69
)

func newSpeech(slope, rate float64, r *rand.Rand) *speech {
	s := &speech{sound: newFiltered(speechFilter(slope, rate), r)}
	for range speechTaps {
		s.sound.next()
	}
	s.level = newSyllables(rate, r)
	return s
}

// newSyllables gives a level of mean square 1 that varies as that of speech does.
func newSyllables(rate float64, r *rand.Rand) slow {
	const n = 8
	var beats oscillators
	for range n { // 2…6 Hz
		beats = append(beats, oscillator{cycles: (2 + 4*r.Float64()) * hold / rate, start: r.Float64()})
	}
	// The level is exp(Σ a·cos), a = syllable·√(2/n): its mean square is the product of I0(2a).
	a := syllable * math.Sqrt(2.0/n)
	norm := math.Pow(bessel0(2*a), -n/2.0)
	return newSlow(func() complex128 { return complex(norm*math.Exp(a*real(beats.next())), 0) })
}

func (s *speech) next() float64 { return s.sound.next() * real(s.level.next()) }

// speechFilter gives a linear-phase filter of unit noise gain: the wanted
// amplitude, integrated over frequency by sums, tapered by a Kaiser window
// [Kaiser:1974, pp. 20-23]. The cut at 4.4 kHz falls by 60 dB within ±0.2 kHz at 16 kS/s.
func speechFilter(slope, rate float64) []float64 {
	h := make([]float64, speechTaps)
	const steps = 128 // 34 Hz apart: finer than the filter resolves
	for i := range steps {
		f := (float64(i) + 0.5) * 4400 / steps
		a := math.Min(1, math.Pow(f/500, -slope/20/math.Log10(2)))
		a *= math.Min(1, f/100) // nothing reaches the microphone below
		for k := range speechTaps/2 + 1 {
			h[k] += a * math.Cos(2*math.Pi*f*float64(k-speechTaps/2)/rate)
		}
	}
	for k := range speechTaps / 2 {
		h[speechTaps-1-k] = h[k]
	}
	return unitGain(h)
}

// unitGain tapers h and brings its sum of squares to 1.
func unitGain(h []float64) []float64 {
	half := float64(len(h)) / 2
	var sum float64
	for k := range h {
		h[k] *= kaiser((float64(k)-half+0.5)/half, 5.65) // 60 dB
		sum += h[k] * h[k]
	}
	for k := range h {
		h[k] /= math.Sqrt(sum)
	}
	return h
}
