package dsptest

import (
	"cmp"
	"math"
	"math/rand/v2"
)

// Station is an amplitude-modulated broadcaster.
type Station struct {
	Hz      float64 // carrier, absolute
	Level   float64 // dBFS of the carrier
	Depth   float64 // rms modulation by speech (0.3 puts both sidebands together 10 dB under the carrier), or peak by a tone
	Tone    float64 // Hz, audio; 0: like speech
	Slope   float64 // dB an octave above 500 Hz, speech; 0: 9
	Doppler float64 // Hz; 0: no fading, else Rayleigh with a Gaussian spectrum of this standard deviation
}

const (
	groupWidth = 100e3 // stations this close are raised in rate together
	groupRate  = 200e3 // at least; less only where the signal's own rate is
	audioRate  = 15e3  // at least: ±4.8 kHz pass the interpolator
)

// Station adds it.
func (s *Signal) Station(st Station) *Signal {
	g, centre, rate := s.group(st.Hz)
	factor := max(1, int(rate/audioRate))
	u := newUpsampler(factor, (st.Hz-centre)/rate)
	u.sources = []source{newStation(st, rate/float64(factor), s.random())}
	g.sources = append(g.sources, u)
	s.truth.Carriers = append(s.truth.Carriers, Carrier{Hz: st.Hz, Level: st.Level})
	return s
}

// group gives the upsampler that carries what is narrow near hz, its centre
// frequency and its rate.
func (s *Signal) group(hz float64) (u *upsampler, centre, rate float64) {
	factor := max(1, int(s.Rate/groupRate))
	index := int(math.Round((hz - s.Centre) / groupWidth))
	offset := float64(index) * groupWidth
	if s.groups[index] == nil {
		s.groups[index] = newUpsampler(factor, offset/s.Rate)
		s.sources = append(s.sources, s.groups[index])
	}
	return s.groups[index], s.Centre + offset, s.Rate / float64(factor)
}

// station makes carrier and sidebands at a low rate, carrier at zero.
type station struct {
	amplitude, depth float64
	tone             *oscillator
	speech           *speech
	fade             slow
}

func newStation(st Station, rate float64, r *rand.Rand) *station {
	s := &station{amplitude: math.Sqrt(fromDB(st.Level)), depth: st.Depth}
	switch {
	case st.Depth == 0:
	case st.Tone > 0:
		s.tone = &oscillator{cycles: st.Tone / rate, start: r.Float64()}
	default:
		s.speech = newSpeech(cmp.Or(st.Slope, 9), rate, r)
	}
	// A carrier's own phase is any.
	s.fade = newFading(st.Doppler, rate, r)
	return s
}

func (s *station) add(out []complex64) {
	for i := range out {
		a := 1.0
		switch {
		case s.tone != nil:
			a += s.depth * real(s.tone.next())
		case s.speech != nil:
			a += s.depth * s.speech.next()
		}
		out[i] += complex64(complex(s.amplitude*a, 0) * s.fade.next())
	}
}

// newFading gives a slow complex gain of mean power 1: Rayleigh's distribution and a Gaussian
// Doppler spectrum, as single modes of the ionosphere have [Watterson:1970, pp. 792-803]. It
// is a sum of sinusoids of random phase [Rice:1944, pp. 282-332].
func newFading(doppler, rate float64, r *rand.Rand) slow {
	lines := oscillators{{start: r.Float64()}} // of the Doppler spectrum, a turn every hold samples
	if doppler > 0 {
		lines = nil
		for range 24 { // enough for a Rayleigh distribution
			lines = append(lines, oscillator{cycles: doppler * r.NormFloat64() * hold / rate, start: r.Float64()})
		}
	}
	return newSlow(func() complex128 { return lines.next() / complex(math.Sqrt(float64(len(lines))), 0) })
}
