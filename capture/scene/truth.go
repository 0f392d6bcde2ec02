package scene

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// snrBandwidth is the bandwidth that SNRs are stated in, Hz.
const snrBandwidth = 9e3

// A Truth knows what a scene is made of: for tests, and for the demo's check of
// its own answer. It draws no random numbers and takes no time in the scene.
//
// Powers are means over fading, noise is the mean over the mains period. Noise takes in
// that of the receiver's front end; that of converter and rounding, which depends on the
// gain, only in Density: in the demo it adds 0.07 dB on the mean, and up to 0.7 dB where strong
// stations keep the gain low, as through the loop in the loft.
type Truth struct {
	world *world
	rate  float64
}

// Truth tells what this house is made of.
func (h *House) Truth() Truth { return Truth{world: h.world, rate: h.rate} }

// Density gives the noise density at f that samples at the gain will hold, in
// full-scale units, before the decimation filter: the mean over the mains period,
// without coherent lines and clicks, with converter and rounding.
func (t Truth) Density(setup survey.Setup, f survey.Hz, gain survey.DB, at time.Time) (survey.DBFSPerHz, error) {
	m, err := mount(setup)
	if err != nil {
		return 0, err
	}
	d := t.world.noise(m, float64(f), t.world.since(at)).total() / fullScalePower(float64(gain))
	return survey.DBFSPerHz(toDB(d + converterNoise(t.rate) + roundingNoise(t.rate))), nil
}

// audible is the SNR in 9 kHz from which a carrier is found: 10 dB over the
// floor in 100 Hz.
const audible = 10 - 19.5 // dB

// Advantage gives by how many dB setup hears better than reference between two
// frequencies and times: the mean over stations, all of equal weight, of the mean over all
// that time of the difference of their SNRs in dB against the mean floor of the segment. It
// counts the stations that can be found through either of the two at any of these times. A
// difference does not depend on how strong a station is, and so stands for the time in which it
// is weak or off the air, too: else evening stations would count the evening's floors alone.
// In an amateur band they are voices of the usual strength from all directions.
func (t Truth) Advantage(setup, reference survey.Setup, low, high survey.Hz, from, to time.Time) (survey.DB, int, error) {
	a, errA := mount(setup)
	b, errB := mount(reference)
	if err := cmp.Or(errA, errB); err != nil {
		return 0, 0, err
	}
	if a.kind == terminator || b.kind == terminator {
		return 0, 0, fmt.Errorf("advantage of %v over %v: a terminator hears no station; name antennas", setup, reference)
	}
	moments := t.floorsBetween(a, b, float64(low), float64(high), from, to)
	signals, heard := 0.0, 0
	for _, s := range t.world.between(float64(low), float64(high), t.world.since(from)) {
		if t.world.heard(a, b, &s, moments) {
			signals += toDB(a.takes(&s) / b.takes(&s))
			heard++
		}
	}
	if heard == 0 {
		return 0, 0, fmt.Errorf("advantage between %v and %v: no station to be heard; choose other times or a wider segment", low, high)
	}
	floors := 0.0
	for _, m := range moments {
		floors += toDB(m.a / m.b)
	}
	return survey.DB(signals/float64(heard) - floors/float64(len(moments))), heard, nil
}

// A floorsAt is a time with the floors of two setups, mW/Hz.
type floorsAt struct{ t, a, b float64 }

// floorsBetween gives the floors every ten minutes, from the middle of the first.
func (t Truth) floorsBetween(a, b mounted, low, high float64, from, to time.Time) []floorsAt {
	const step = 600
	var out []floorsAt
	first, last := t.world.since(from), t.world.since(to)
	for now := first + min(step, last-first)/2; now < last; now += step {
		out = append(out, floorsAt{now, t.world.floor(a, low, high, now), t.world.floor(b, low, high, now)})
	}
	return out
}

// floor gives the mean density over a segment.
func (w *world) floor(m mounted, low, high, t float64) float64 {
	const places = 9
	var sum float64
	for i := range places {
		f := low + (high-low)*(float64(i)+0.5)/places
		sum += w.noise(m, f, t).total()
	}
	return sum / places
}

// heard tells whether a station can be heard through either of two setups at any of some moments.
func (w *world) heard(a, b mounted, s *station, moments []floorsAt) bool {
	return slices.ContainsFunc(moments, func(m floorsAt) bool {
		return max(w.carrier(a, s, m.t)/m.a, w.carrier(b, s, m.t)/m.b) >= fromDB(audible)*snrBandwidth
	})
}

// SupplyNull gives the bearing at which a loop at a placement hears least of a supply at f,
// 0 ≤ bearing < 180, and how far that stands under what it hears most: tried in steps of 0.1°.
func (t Truth) SupplyNull(name string, loop survey.Setup, f survey.Hz) (bearing float64, depth survey.DB, err error) {
	i := slices.IndexFunc(t.world.supplies, func(s supply) bool { return s.name == name })
	if i < 0 {
		return 0, 0, fmt.Errorf("supply %q: not in the simulated house", name)
	}
	least, most := math.Inf(1), 0.0
	for tenths := range 1800 {
		loop.Bearing = survey.BearingOf(float64(tenths) / 10)
		m, err := mount(loop)
		if err != nil {
			return 0, 0, err
		}
		power := t.world.supplies[i].coupling(m, float64(f))
		if power < least {
			bearing, least = loop.Bearing.Deg, power
		}
		most = max(most, power)
	}
	return bearing, survey.DB(toDB(most / least)), nil
}

// A Supply is a switching supply of the house: where its comb settles, and when it is on.
type Supply struct {
	Name    string
	Spacing survey.Hz // once warm
	Hours   []Hours
}

// Hours are a stretch of time in which something is on.
type Hours struct{ From, To time.Time }

// Supplies lists the switching supplies that are on at any time between two, cut to it,
// to the minute.
func (t Truth) Supplies(from, to time.Time) []Supply {
	var out []Supply
	for i := range t.world.supplies {
		u := &t.world.supplies[i]
		s := Supply{Name: u.name, Spacing: survey.Hz(u.spacing)}
		open := false
		for at := from; at.Before(to); at = at.Add(time.Minute) {
			_, on := u.since(t.world.timeOfDay(t.world.since(at)))
			switch {
			case on && open:
				s.Hours[len(s.Hours)-1].To = at
			case on:
				s.Hours = append(s.Hours, Hours{at, at})
			}
			open = on
		}
		if len(s.Hours) > 0 {
			out = append(out, s)
		}
	}
	return out
}
