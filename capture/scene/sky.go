package scene

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
)

// A station is a broadcaster that sends amplitude modulation some Hz beside a multiple of
// 5 kHz.
type station struct {
	broadcaster
	frequency float64 // Hz, as sent
	elevation float64 // degrees, of the ray that arrives
	hours     hours
	depth     float64 // rms of the modulation
	voice     bool    // no broadcaster: a voice in the upper sideband of a carrier that is not sent
	audio     int     // where in the loop of speech it begins
	fading    [parts]fading
}

func newStations(seed uint64) []station {
	all := slices.Concat(broadcasters, beacons)
	out := make([]station, len(all))
	for i, l := range all {
		r := rand.New(rand.NewPCG(seed, 0x736b79+uint64(i)))
		s := station{broadcaster: l}
		s.frequency = l.kHz*1e3 + r.NormFloat64()*3 // tolerance: 10 Hz (PHYSICS.md 2.2)
		s.elevation = rayElevation(l.distance)
		s.hours = hours{clock(l.from, 0), clock(l.to, 0)}
		if s.depth = 0.2 + 0.15*r.Float64(); i >= len(broadcasters) {
			s.depth = 0
		}
		s.audio = r.IntN(speechLength)
		// Doppler spreads of quiet to disturbed paths; some paths with a steady ray.
		spread := 0.1 * math.Pow(10, r.Float64())
		steady := max(1.0/rays, 0.7*(r.Float64()-0.4))
		for i := range s.fading {
			s.fading[i] = newFading(r, spread, steady)
		}
		out[i] = s
	}
	return out
}

// rayElevation gives the elevation in degrees of a ray by way of a layer at 300
// km, in the fewest hops of at most 3000 km: flat earth, less half the hop's
// angle at the earth's centre.
func rayElevation(distance float64) float64 {
	const height, radius = 300, 6371
	hop := distance / math.Ceil(distance/3000)
	return max(3, (math.Atan(2*height/hop)-hop/2/radius)*180/math.Pi)
}

// field gives the mean field of the station's carrier outdoors, (µV/m)², at
// time t, fading apart; 0 off the air.
func (w *world) field(s *station, t float64) float64 {
	if s.voice {
		return fromDB(s.level)
	}
	if _, onAir := s.hours.since(w.timeOfDay(t)); !onAir {
		return 0
	}
	return fromDB(s.level - w.pathLoss(s.frequency, s.distance, t))
}

// pathLoss gives by how much a path is worse than it is at its best, dB. By day the
// ionosphere's lower layer absorbs, as 1/f²; the highest usable frequency falls after
// sunset, and stays higher for flat rays (PHYSICS.md 9.4). The figures are chosen.
func (w *world) pathLoss(f, distance, t float64) float64 {
	day := w.daylight(t)
	lingering := (day + w.daylight(t-5400) + w.daylight(t-10800)) / 3
	hops := math.Ceil(distance / 3000)
	absorption := 8 * day * (10e6 / f) * (10e6 / f) * (0.5 + 0.5*hops)
	flat := min(1, distance/hops/2000)
	usable := 1e6 * (8 + 4.5*flat + (5+3*flat)*lingering)
	return absorption + 40*smooth((f-usable)/4e6)
}

// carrier gives the mean power of a station's carrier at the terminal, mW.
func (w *world) carrier(m mounted, s *station, t float64) float64 {
	return w.field(s, t) * m.takes(s)
}

// takes gives the mean power at the terminal, mW per (µV/m)² of a station's field outdoors.
func (m mounted) takes(s *station) float64 {
	return m.response(s.azimuth, s.elevation).power() * m.terminalPower()
}

// rays is the number of sinusoids of a fading process.
const rays = 12

// A fading is a complex Gaussian process of mean power 1, as a sum of sinusoids
// of Gaussian Doppler shifts (PHYSICS.md 9.1): Rayleigh fading, or Rician if
// one ray outweighs the others. No two rays have the same shift, so that over time the
// powers of parts that fade apart add up.
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
func (f *fading) at(t float64) (sum complex128) {
	for i := range f {
		_, turn := math.Modf(f[i].shift*t + f[i].phase)
		sum += cmplx.Rect(f[i].amplitude, 2*math.Pi*turn)
	}
	return sum
}
