package dsptest

import "math"

// taps is the length of the interpolator's filter in low-rate samples. By N =
// (A − 7.95)/(14.36·Δf) [Kaiser:1974, pp. 20-23] and A = 90 dB the transition is
// Δf = 0.36 of the low rate: content within ±0.32 of the low rate passes, and
// its images stand 90 dB lower.
const taps = 16

// An upsampler raises the rate of the sum of its sources by a whole factor and
// shifts it in frequency: a polyphase filter [Crochiere:1981, pp. 300-331] with a Kaiser window.
type upsampler struct {
	factor  int
	filter  [][taps]float32 // by phase
	sources []source
	mixer   mixer
	low     []complex64 // the last taps samples, then the new ones
	phase   int
	out     [block]complex64
}

func newUpsampler(factor int, cycles float64) *upsampler {
	u := &upsampler{factor: factor, low: make([]complex64, taps)}
	u.mixer.cycles = cycles
	u.filter = make([][taps]float32, factor)
	const beta = 0.1102 * (90 - 8.7) // β for 90 dB [Kaiser:1974, pp. 20-23]
	half := float64(taps) / 2
	for p := range u.filter {
		var h [taps]float64
		var sum float64
		for k := range h {
			// Output phase p stands p/factor after the middle of the window.
			t := float64(k) - half + 1 - float64(p)/float64(factor)
			h[k] = sinc(t) * kaiser(t/half, beta)
			sum += h[k]
		}
		for k := range h {
			u.filter[p][k] = float32(h[k] / sum)
		}
	}
	return u
}

func (u *upsampler) add(out []complex64) {
	if u.factor == 1 {
		tmp := u.out[:len(out)]
		clear(tmp)
		for _, s := range u.sources {
			s.add(tmp)
		}
		u.mixer.shift(out, tmp)
		return
	}
	// A low-rate sample enters whenever the phase comes round to zero.
	first := (u.factor - u.phase) % u.factor
	fresh := 0
	if len(out) > first {
		fresh = (len(out)-first-1)/u.factor + 1
	}
	for range fresh {
		u.low = append(u.low, 0)
	}
	if fresh > 0 {
		for _, s := range u.sources {
			s.add(u.low[len(u.low)-fresh:])
		}
	}
	u.interpolate(u.out[:len(out)])
	keep := u.low[fresh:]
	u.low = u.low[:copy(u.low, keep)]
	u.mixer.shift(out, u.out[:len(out)])
}

// interpolate fills out from the low-rate samples: the window of old ones until
// the phase comes round to zero, then one further for each round.
func (u *upsampler) interpolate(out []complex64) {
	at, p := 0, u.phase
	for i := range out {
		if p == 0 {
			at++
		}
		x := (*[taps]complex64)(u.low[at:])
		h := &u.filter[p]
		// Two sums each: one alone would wait for every addition.
		var re, im, re2, im2 float32
		for k := 0; k < taps; k += 2 {
			re += h[k] * real(x[k])
			im += h[k] * imag(x[k])
			re2 += h[k+1] * real(x[k+1])
			im2 += h[k+1] * imag(x[k+1])
		}
		out[i] = complex(re+re2, im+im2)
		if p++; p == u.factor {
			p = 0
		}
	}
	u.phase = p
}

func sinc(t float64) float64 {
	if t == 0 {
		return 1
	}
	return math.Sin(math.Pi*t) / (math.Pi * t)
}

// kaiser gives the Kaiser window at t, −1 ≤ t ≤ 1.
func kaiser(t, beta float64) float64 {
	if t*t > 1 {
		return 0
	}
	return bessel0(beta*math.Sqrt(1-t*t)) / bessel0(beta)
}

// bessel0 gives the modified Bessel function I0 by its power series
// [Abramowitz:1964, eq. 9.6.12].
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > sum*1e-17; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}
