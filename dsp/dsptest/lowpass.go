package dsptest

import "math"

// LowPass gives x, of so many samples a second, as a receiver's filter lets it through: from middle−half
// to middle+half Hz off the tuned frequency, falling by 74 dB over the transition (Hz) about either
// edge [Harris:1978, the window of Blackman].
func LowPass(x []complex64, rate, middle, half, transition float64) []complex64 {
	n := int(5.5*rate/transition) | 1
	taps := make([]complex64, n)
	for k := range taps {
		t := float64(k - n/2)
		u := 2 * math.Pi * float64(k) / float64(n-1)
		a := 2 * half / rate * sinc(2*half/rate*t) * (0.42 - 0.5*math.Cos(u) + 0.08*math.Cos(2*u))
		sin, cos := math.Sincos(2 * math.Pi * math.Mod(middle/rate*t, 1))
		taps[k] = complex(float32(a*cos), float32(a*sin))
	}
	out := make([]complex64, len(x))
	for i := range out {
		var sum complex64
		for k, tap := range taps[:min(n, i+1)] {
			sum += tap * x[i-k]
		}
		out[i] = sum
	}
	return out
}

// Coded gives x rounded to codes of so many bits, kept within full scale.
func Coded(x []complex64, bits int) []complex64 {
	full := math.Ldexp(1, bits-1)
	round := func(v float32) float32 {
		return float32(max(-full, min(full-1, math.Round(float64(v)*full))) / full)
	}
	out := make([]complex64, len(x))
	for i, v := range x {
		out[i] = complex(round(real(v)), round(imag(v)))
	}
	return out
}
