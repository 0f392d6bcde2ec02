package dsptest

import "math"

// Data adds a digital transmission: a flat block of noise width Hz wide (at
// most 80 kHz, less near the signal's edges) about hz, of level dBFS in all.
func (s *Signal) Data(hz, width, level float64) *Signal {
	g, centre, rate := s.group(hz)
	factor := max(1, int(rate/max(audioRate, 2*width)))
	u := newUpsampler(factor, (hz-centre)/rate)
	low := rate / float64(factor)
	filter := make([]float64, speechTaps)
	for k := range filter {
		filter[k] = sinc(float64(k-speechTaps/2) * width / low)
	}
	unitGain(filter)
	r := s.random()
	d := &data{re: newFiltered(filter, r), im: newFiltered(filter, r), amplitude: math.Sqrt(fromDB(level) / 2)}
	d.add(make([]complex64, speechTaps))
	u.sources = []source{d}
	g.sources = append(g.sources, u)
	return s
}

// data is complex noise through a low-pass filter.
type data struct {
	re, im    *filtered
	amplitude float64
}

func (d *data) add(out []complex64) {
	for i := range out {
		out[i] += complex(float32(d.amplitude*d.re.next()), float32(d.amplitude*d.im.next()))
	}
}
