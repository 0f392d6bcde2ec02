package scene

import (
	"math"
	"math/rand/v2"

	"nightfloor/survey"
)

// What is on the air in each amateur band. The figures are chosen.
const (
	oversAMinute = 30.0   // transmissions a minute that begin, mean
	overLasts    = 8.0    // s, mean; exponential
	overMost     = 60.0   // s
	overLevel    = 12.0   // dB over the noise outdoors in overWidth, mean
	overSD       = 8.0    // dB
	overWidth    = 2400.0 // Hz: of a voice in one sideband
)

// An air is what is on the air in one amateur band: single-sideband voices that come and go at
// random.
type air struct {
	low, high float64 // Hz
	seed      uint64
	of        uint64 // the band, counted from 0
}

// newAirs gives those of the amateur bands of region 1.
func newAirs(seed uint64) (all []air) {
	for i, b := range survey.AmateurBands(1) {
		all = append(all, air{low: float64(b.Low), high: float64(b.High), seed: seed, of: uint64(i)})
	}
	return all
}

// overs finds transmissions; its buffers are reused.
type overs struct {
	of, own *rand.PCG // of a minute, of one transmission
	on      []station
}

// newOvers has room for what is on in three bands at once.
func newOvers() overs { return overs{rand.NewPCG(0, 0), rand.NewPCG(0, 0), make([]station, 0, 64)} }

// find gives the transmissions that are on the air between two frequencies at time t, until it is
// called again. Each minute has random numbers of its own, so that they do not depend on what was
// listened to before.
func (o *overs) find(w *world, low, high, t float64) []station {
	o.on = o.on[:0]
	for i := range w.airs {
		a := &w.airs[i]
		if a.high < low || a.low > high {
			continue
		}
		for back := range 2 {
			minute := math.Floor(t/60) - float64(back)
			o.of.Seed(a.seed, 0x6f766572<<32|a.of<<24|uint64(int64(minute))&0xffffff)
			r := rand.New(o.of)
			for at := r.ExpFloat64() / oversAMinute; at < 1; at += r.ExpFloat64() / oversAMinute {
				begin, lasts, own := 60*(minute+at), min(overMost, overLasts*r.ExpFloat64()), r.Uint64()
				if begin <= t && t < begin+lasts {
					o.own.Seed(own, a.of)
					o.on = append(o.on, w.newOver(a, rand.New(o.own), t))
				}
			}
		}
	}
	return o.on
}

// newOver makes one transmission from its own random numbers.
func (w *world) newOver(a *air, r *rand.Rand, t float64) (s station) {
	s = w.voice(a.low+(a.high-a.low-overWidth)*r.Float64(), 360*r.Float64(), r.Float64(), overLevel+overSD*r.NormFloat64(), t)
	s.audio = r.IntN(speechLength)
	spread := 0.1 * math.Pow(10, r.Float64()) // as broadcasters'
	for i := range s.fading {
		s.fading[i] = newFading(r, spread, 1.0/rays)
	}
	return s
}

// voice gives a transmission at a frequency, from an azimuth, so many dB over the noise outdoors; far
// is 0 for 300 km and 1 for 6000.
func (w *world) voice(f, azimuth, far, over, t float64) (s station) {
	s.voice, s.frequency, s.azimuth = true, f, azimuth
	s.distance = 300 * math.Pow(20, far)
	s.elevation = rayElevation(s.distance)
	noise := fieldOf(atmospheric(f, w.daylight(t)), f) + fieldOf(residential(f), f)
	s.level = toDB(noise*overWidth) + over
	return s
}

// between gives the stations between two frequencies: broadcasters, and voices from all round the
// sky where there is an amateur band.
func (w *world) between(low, high, t float64) (all []station) {
	for _, s := range w.stations {
		if s.frequency >= low && s.frequency <= high {
			all = append(all, s)
		}
	}
	const azimuths, distances = 24, 8
	for _, a := range w.airs {
		from, to := max(low, a.low), min(high, a.high)
		if from >= to {
			continue
		}
		for i := range azimuths * distances {
			azimuth, far := 360*float64(i/distances)/azimuths, (float64(i%distances)+0.5)/distances
			all = append(all, w.voice((from+to)/2, azimuth, far, overLevel, t))
		}
	}
	return all
}
