package dsptest

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Noise adds white Gaussian noise of the density, FS²/Hz.
func (s *Signal) Noise(density float64) *Signal {
	s.sources = append(s.sources, &white{r: s.random(), sd: float32(math.Sqrt(density * s.Rate / 2))})
	s.truth.white += density
	return s
}

// white is Gaussian noise, sd in each component.
type white struct {
	r  *rand.Rand
	sd float32
}

func (w *white) add(out []complex64) {
	for i := range out {
		out[i] += complex(w.sd*float32(w.r.NormFloat64()), w.sd*float32(w.r.NormFloat64()))
	}
}

// Shaped adds Gaussian noise whose density follows shape (FS²/Hz, of the
// absolute frequency in Hz) as well as a filter of 1024 taps can: detail
// narrower than about Rate/250 is smoothed.
func (s *Signal) Shaped(shape func(hz float64) float64) *Signal {
	h := shapeFilter(s.Rate, func(offset float64) float64 { return math.Sqrt(shape(s.Centre + offset)) })
	s.sources = append(s.sources, &shaped{r: s.random(), h: transform(h, shapedBlock), sd: math.Sqrt(s.Rate / 2),
		fft: fourier.NewCmplxFFT(shapedBlock), x: make([]complex128, shapedBlock), past: make([]complex128, shapeTaps-1)})
	s.truth.shapes = append(s.truth.shapes, func(hz float64) float64 {
		return gainAt(h, (hz-s.Centre)/s.Rate)
	})
	return s
}

const (
	shapeTaps   = 1024
	shapedBlock = 8192
)

// shapeFilter samples the wanted amplitude on a grid, transforms it to an
// impulse response and tapers it (Hann).
func shapeFilter(rate float64, amplitude func(offset float64) float64) []complex128 {
	grid := make([]complex128, shapeTaps)
	for k := range grid {
		f := float64(k)
		if k >= shapeTaps/2 {
			f -= shapeTaps
		}
		grid[k] = complex(amplitude(f*rate/shapeTaps), 0)
	}
	raw := fourier.NewCmplxFFT(shapeTaps).Sequence(nil, grid)
	h := make([]complex128, shapeTaps)
	for k := range h {
		taper := 0.5 - 0.5*math.Cos(2*math.Pi*float64(k)/shapeTaps)
		h[k] = raw[(k+shapeTaps/2)%shapeTaps] * complex(taper/shapeTaps, 0)
	}
	return h
}

func transform(h []complex128, n int) []complex128 {
	x := make([]complex128, n)
	copy(x, h)
	return fourier.NewCmplxFFT(n).Coefficients(nil, x)
}

// gainAt gives the power response of h at a frequency in cycles a sample.
func gainAt(h []complex128, cycles float64) float64 {
	var sum complex128
	for k, c := range h {
		sin, cos := math.Sincos(-2 * math.Pi * math.Mod(cycles*float64(k), 1))
		sum += c * complex(cos, sin)
	}
	return real(sum)*real(sum) + imag(sum)*imag(sum)
}

// shaped is white noise through a filter, by overlap and save [Stockham:1966, pp. 229-233]:
// the same convolution as tap by tap, 60 times faster.
type shaped struct {
	r     *rand.Rand
	h     []complex128
	sd    float64
	fft   *fourier.CmplxFFT
	x     []complex128
	past  []complex128 // input of before
	ready []complex128 // output not yet taken
}

func (s *shaped) add(out []complex64) {
	for i := range out {
		if len(s.ready) == 0 {
			s.more()
		}
		out[i] += complex64(s.ready[0])
		s.ready = s.ready[1:]
	}
}

func (s *shaped) more() {
	copy(s.x, s.past)
	for i := len(s.past); i < len(s.x); i++ {
		s.x[i] = complex(s.sd*s.r.NormFloat64(), s.sd*s.r.NormFloat64())
	}
	copy(s.past, s.x[len(s.x)-len(s.past):])
	s.fft.Coefficients(s.x, s.x)
	for i, h := range s.h {
		s.x[i] *= h / complex(shapedBlock, 0)
	}
	s.fft.Sequence(s.x, s.x)
	s.ready = s.x[len(s.past):]
}
