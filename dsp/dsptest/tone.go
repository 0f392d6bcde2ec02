package dsptest

import "math"

// Tone adds a steady line at hz (absolute) of level dBFS and phase radians.
func (s *Signal) Tone(hz, level, phase float64) *Signal {
	t := &tone{amplitude: complex(float32(math.Sqrt(fromDB(level))), 0)}
	t.cycles, t.start = (hz-s.Centre)/s.Rate, phase/(2*math.Pi)
	s.sources = append(s.sources, t)
	s.truth.Carriers = append(s.truth.Carriers, Carrier{Hz: hz, Level: level})
	return s
}

type tone struct {
	oscillator
	amplitude complex64
	w         [block]complex64
}

func (t *tone) add(out []complex64) {
	w := t.w[:len(out)]
	t.phasors(w)
	for i, x := range w {
		out[i] += t.amplitude * x
	}
}
