package dsptest

import "math"

// An oscillator turns at a fixed number of cycles a sample.
type oscillator struct {
	cycles float64 // a sample
	start  float64 // cycles at n = 0
	n      int64
}

// phasors fills out with the next unit phasors. The recurrence starts afresh
// from the exact phase in every call; 2048 products in double precision stay
// within 1e-12.
func (o *oscillator) phasors(out []complex64) {
	w := o.at(o.n)
	sin, cos := math.Sincos(2 * math.Pi * o.cycles)
	step := complex(cos, sin)
	for i := range out {
		out[i] = complex64(w)
		w *= step
	}
	o.n += int64(len(out))
}

func (o *oscillator) at(n int64) complex128 {
	sin, cos := math.Sincos(2 * math.Pi * math.Mod(o.start+float64(n)*o.cycles, 1))
	return complex(cos, sin)
}

// A mixer shifts a signal in frequency by its oscillator.
type mixer struct {
	oscillator
	w [block]complex64
}

// shift adds in, shifted, to out.
func (m *mixer) shift(out, in []complex64) {
	w := m.w[:len(in)]
	m.phasors(w)
	out = out[:len(in)]
	for i, x := range in {
		out[i] += x * w[i]
	}
}
