package dsptest

import (
	"math"
	"math/rand/v2"
)

// speech is audio of mean square 1 with the long-term spectrum of speech: flat
// to 500 Hz, falling above, cut at 4.5 kHz, its level varying as syllables do.
type speech struct {
	r      *rand.Rand
	filter []float64
	past   []float64 // noise, a ring written twice over, so that a window lies in one piece
	at     int
	beats  []oscillator // of the level, one turn every hold samples
	norm   float64
	now    float64
	end    float64
	left   int
}

const (
	speechTaps = 161
	// syllable is the standard deviation of the level's natural logarithm: 6 dB.
	syllable = 0.69
)

func newSpeech(slope, rate float64, r *rand.Rand) *speech {
	s := &speech{r: r, filter: speechFilter(slope, rate), past: make([]float64, 2*speechTaps)}
	for i := range speechTaps {
		s.past[i] = r.NormFloat64()
		s.past[i+speechTaps] = s.past[i]
	}
	const beats = 8
	for range beats { // 2…6 Hz
		s.beats = append(s.beats, oscillator{cycles: (2 + 4*r.Float64()) * hold / rate, start: r.Float64()})
	}
	// The level is exp(Σ a·cos), a = syllable·√(2/beats): its mean square is
	// the product of I0(2a).
	s.norm = math.Pow(bessel0(2*syllable*math.Sqrt(2.0/beats)), -beats/2.0)
	s.end = s.level()
	return s
}

func (s *speech) level() float64 {
	var sum float64
	for i := range s.beats {
		sum += real(s.beats[i].at(s.beats[i].n))
		s.beats[i].n++
	}
	return s.norm * math.Exp(syllable*math.Sqrt(2/float64(len(s.beats)))*sum)
}

func (s *speech) next() float64 {
	v := s.r.NormFloat64()
	s.past[s.at], s.past[s.at+speechTaps] = v, v
	s.at = (s.at + 1) % speechTaps
	sum := dot(s.filter, s.past[s.at:s.at+speechTaps])
	if s.left == 0 {
		s.now, s.end, s.left = s.end, s.level(), hold
	}
	level := s.now + (s.end-s.now)*float64(hold-s.left)/hold
	s.left--
	return sum * level
}

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

// dot gives Σ a·b in four sums, so that additions need not wait for each other.
func dot(a, b []float64) float64 {
	var s [4]float64
	b = b[:len(a)]
	k := 0
	for ; k+4 <= len(a); k += 4 {
		s[0] += a[k] * b[k]
		s[1] += a[k+1] * b[k+1]
		s[2] += a[k+2] * b[k+2]
		s[3] += a[k+3] * b[k+3]
	}
	for ; k < len(a); k++ {
		s[0] += a[k] * b[k]
	}
	return s[0] + s[1] + s[2] + s[3]
}
