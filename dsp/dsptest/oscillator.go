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

// next gives the next phasor.
func (o *oscillator) next() complex128 {
	o.n++
	return o.at(o.n - 1)
}

// oscillators turn together.
type oscillators []oscillator

// next gives the sum of their next phasors.
func (o oscillators) next() (sum complex128) {
	for i := range o {
		sum += o[i].next()
	}
	return sum
}

// hold is how many low-rate samples a slow value is drawn as a straight
// line: at 10 Hz and 15 kS/s the error is (2π·10·16/15e3)²/8, 65 dB down.
const hold = 16

// A slow value goes in straight lines through one that is made every hold samples.
type slow struct {
	make     func() complex128
	now, end complex128
	left     int
}

func newSlow(make func() complex128) slow { return slow{make: make, end: make()} }

func (s *slow) next() complex128 {
	if s.left == 0 {
		s.now, s.end, s.left = s.end, s.make(), hold
	}
	x := s.now + (s.end-s.now)*complex(float64(hold-s.left)/hold, 0)
	s.left--
	return x
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
