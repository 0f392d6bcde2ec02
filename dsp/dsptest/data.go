package dsptest

import "math"

// Data adds a digital transmission: a flat block of noise width Hz wide (at
// most 80 kHz, less near the signal's edges) about hz, of level dBFS in all.
func (s *Signal) Data(hz, width, level float64) *Signal {
	d := s.block(hz, level, 2*width, func(t float64) float64 { return sinc(t * width) })
	d.swell = newSlow(func() complex128 { return 1 })
	return s
}

// Splatter adds what an overmodulated station spills over its neighbours: noise about hz, its
// density a Gaussian of standard deviation width Hz (15 kHz at most), of level dBFS in all,
// that swells and sinks as speech does.
func (s *Signal) Splatter(hz, width, level float64) *Signal {
	d := s.block(hz, level, 7*width, func(t float64) float64 { // 0.0005 of it lies beyond
		t *= 2 * math.Pi * width
		return math.Exp(-t * t) // transform of the amplitude, which is √2 as wide as the density
	})
	d.swell = newSyllables(d.rate, s.random())
	return s
}

// block adds noise about hz, of level dBFS in all, at a rate of at least so many samples a second,
// through a filter by time in seconds.
func (s *Signal) block(hz, level, least float64, filter func(t float64) float64) *data {
	g, centre, rate := s.group(hz)
	factor := max(1, int(rate/max(audioRate, least)))
	u := newUpsampler(factor, (hz-centre)/rate)
	rate /= float64(factor)
	taps := make([]float64, speechTaps)
	for k := range taps {
		taps[k] = filter(float64(k-speechTaps/2) / rate)
	}
	unitGain(taps)
	r := s.random()
	d := &data{re: newFiltered(taps, r), im: newFiltered(taps, r), amplitude: math.Sqrt(fromDB(level) / 2), rate: rate}
	for range speechTaps {
		d.re.next()
		d.im.next()
	}
	u.sources = []source{d}
	g.sources = append(g.sources, u)
	return d
}

// data is complex noise through a low-pass filter.
type data struct {
	re, im          *filtered
	amplitude, rate float64
	swell           slow // of the amplitude
}

func (d *data) add(out []complex64) {
	for i := range out {
		a := d.amplitude * real(d.swell.next())
		out[i] += complex(float32(a*d.re.next()), float32(a*d.im.next()))
	}
}
