package dsptest

import (
	"math"
	"math/rand/v2"
)

// Data adds a digital transmission: a flat block of noise width Hz wide (at
// most 80 kHz, less near the signal's edges) about hz, of level dBFS in all.
func (s *Signal) Data(hz, width, level float64) *Signal {
	g, centre, rate := s.group(hz)
	factor := max(1, int(rate/max(audioRate, 2*width)))
	u := newUpsampler(factor, (hz-centre)/rate)
	low := rate / float64(factor)
	d := &data{r: s.random(), amplitude: math.Sqrt(fromDB(level) / 2), past: make([]complex128, 2*speechTaps)}
	d.filter = make([]float64, speechTaps)
	for k := range d.filter {
		d.filter[k] = sinc(float64(k-speechTaps/2) * width / low)
	}
	unitGain(d.filter)
	for range speechTaps {
		d.step()
	}
	u.sources = []source{d}
	g.sources = append(g.sources, u)
	return s
}

// data is complex noise through a low-pass filter.
type data struct {
	r         *rand.Rand
	amplitude float64
	filter    []float64
	past      []complex128 // a ring, as in speech
	at        int
}

func (d *data) step() {
	v := complex(d.r.NormFloat64(), d.r.NormFloat64())
	d.past[d.at], d.past[d.at+speechTaps] = v, v
	d.at = (d.at + 1) % speechTaps
}

func (d *data) add(out []complex64) {
	for i := range out {
		d.step()
		var re, im float64
		for k, x := range d.past[d.at : d.at+speechTaps] {
			re += real(x) * d.filter[k]
			im += imag(x) * d.filter[k]
		}
		out[i] += complex(float32(d.amplitude*re), float32(d.amplitude*im))
	}
}
