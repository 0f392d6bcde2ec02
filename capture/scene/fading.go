package scene

import (
	"math"
	"math/rand/v2"
)

// rays is the number of sinusoids of a fading process.
const rays = 12

// A fading is a complex Gaussian process of mean power 1, as a sum of sinusoids
// of Gaussian Doppler shifts (trade notes, 4.4): Rayleigh fading, or Rician if
// one ray outweighs the others. Every ray has its own shift, so that parts that
// fade by themselves add up in power over time.
type fading [rays]struct{ shift, phase, amplitude float64 }

// newFading makes a process of a Doppler spread (twice the standard deviation),
// Hz; steady is the first ray's share of the power.
func newFading(r *rand.Rand, spread, steady float64) (f fading) {
	for i := range f {
		f[i].shift = r.NormFloat64() * spread / 2
		f[i].phase = r.Float64()
		f[i].amplitude = math.Sqrt((1 - steady) / (rays - 1))
	}
	f[0].amplitude = math.Sqrt(steady)
	return f
}

// at gives the process at time t.
func (f *fading) at(t float64) (re, im float64) {
	for i := range f {
		ray := &f[i]
		_, turn := math.Modf(ray.shift*t + ray.phase)
		sin, cos := math.Sincos(2 * math.Pi * turn)
		re += ray.amplitude * cos
		im += ray.amplitude * sin
	}
	return re, im
}
