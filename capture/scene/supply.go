package scene

import "math"

// A supply is a switching supply: a comb of lines at whole multiples of its
// frequency, and broadband noise (hash) between them, both modulated by the mains.
type supply struct {
	name     string
	spacing  float64 // Hz, once warm
	drift    float64 // share by which it starts too high
	warming  float64 // s: time constant with which the drift dies away
	wobble   float64 // Hz, the fundamental's deviation, at twice the mains frequency
	depth    float64 // of the mains modulation: 1 is all of it
	line     float64 // dBµV/m: one comb line's mean at 10 m in the far field at 10 MHz
	between  float64 // dBµV/m/Hz: hash, likewise
	distance [2]float64
	null     [2]float64 // degrees: bearing of a loop that hears least, by room
	hours    []hours
}

// hours are seconds of the UTC day; from > to runs over midnight.
type hours struct{ from, to float64 }

// since gives how long something has been on at a time of day, s.
func (h hours) since(day float64) (long float64, on bool) {
	long = math.Mod(day-h.from+86400, 86400)
	return long, h.to-h.from >= 86400 || long < math.Mod(h.to-h.from+86400, 86400)
}

func clock(h, m float64) float64 { return 3600*h + 60*m }

// houseSupplies stand in or under the study, and radiate as short electric dipoles do.
// Once they are warm, none has its lines on the broadcasters' raster.
func houseSupplies() []supply {
	return []supply{
		{name: "lamp driver", spacing: 65.013e3, drift: 8e-4, warming: 1500, wobble: 0.35, depth: 0.95,
			line: -11, between: -53, distance: [2]float64{2.2, 6.5}, null: [2]float64{128, 150},
			hours: []hours{{clock(16, 40), clock(22, 50)}, {clock(5, 50), clock(7, 10)}}},
		{name: "charger", spacing: 48.617e3, drift: 5e-4, warming: 900, wobble: 0.25, depth: 0.8,
			line: -14, between: -56, distance: [2]float64{2.8, 7}, null: [2]float64{75, 60},
			hours: []hours{{clock(21, 30), clock(3, 20)}}},
		{name: "set-top box", spacing: 113.29e3, drift: 3e-4, warming: 2400, wobble: 0.5, depth: 0.6,
			line: -13, between: -57, distance: [2]float64{3.2, 7.5}, null: [2]float64{20, 35},
			hours: []hours{{clock(3, 30), clock(17, 0)}, {clock(17, 12), clock(23, 40)}, {clock(23, 55), clock(3, 20)}}},
	}
}

// since gives how long the supply has been on at a time of day, s.
func (s *supply) since(day float64) (long float64, on bool) {
	for _, h := range s.hours {
		if long, on = h.since(day); on {
			return long, true
		}
	}
	return 0, false
}

// hash gives the mean density of the noise between the lines at frequency f, (µV/m)²/Hz in
// the far field at 10 m: it falls by 10 dB a decade, with humps where the mains lead is a
// multiple of half a wavelength long (PHYSICS.md 8.1).
func (s *supply) hash(f float64) float64 { return fromDB(s.between) * hashSpectrum(f) }

// linePower gives the mean field of the comb's line at f, (µV/m)², likewise.
func (s *supply) linePower(f float64) float64 { return fromDB(s.line) * hashSpectrum(f) }

func hashSpectrum(f float64) float64 {
	const lead = 3.3e6 // Hz: half a wavelength on some 30 m of house wiring
	hump := 1 + 0.35*math.Cos(2*math.Pi*f/lead)
	return 10e6 / f * hump
}

// coupling gives the power that a setup's antenna takes up of the supply's field, relative
// to that of the far field at 10 m. Beside a short electric dipole, with
// u = (λ/2πr)², E² goes as (1 − u + u²)/r² and (377·H)² as (1 + u)/r²: their
// ratio is the wave impedance of PHYSICS.md 6.1.
func (s *supply) coupling(m mounted, f float64) float64 {
	r := s.distance[m.room]
	u := 299.79e6 / f / (2 * math.Pi * r)
	u *= u
	spread := (10 / r) * (10 / r)
	switch m.kind {
	case whip:
		return spread * (1 - u + u*u)
	case dipole: // level, over a source that stands upright
		return spread * (1 - u + u*u) * fromDB(-8)
	default: // a loop
		// The antenna effect of 5.3, −20 dB, is what stays in the null.
		sin := math.Sin((m.bearing - s.null[m.room]) * math.Pi / 180)
		return spread * (1 + u) * (sin*sin + 0.01)
	}
}

// cycles gives the phase of the fundamental without its wobble, in cycles, at time t, when
// it has been on for long, s: the integral of frequency.
func (s *supply) cycles(t, long float64) float64 {
	return s.spacing * (t - s.drift*s.warming*math.Exp(-long/s.warming))
}

// wobbleCycles gives the amplitude of the wobble in cycles: its frequency deviation over
// its own frequency, twice that of the mains.
func (s *supply) wobbleCycles() float64 { return s.wobble / (2 * mainsHz) / (2 * math.Pi) }

// frequency gives the fundamental's frequency, without its wobble, when on for long.
func (s *supply) frequency(long float64) float64 {
	return s.spacing * (1 + s.drift*math.Exp(-long/s.warming))
}

const mainsHz = 50

// mains gives the phase of the mains, cycles: 50 Hz, wandering by 0.02 Hz
// within ten minutes.
func mains(t float64) float64 {
	const wander, period = 0.02, 600
	return mainsHz*t + wander*period/(2*math.Pi)*(1-math.Cos(2*math.Pi*t/period))
}

// swingSteps is the number of steps of the envelope in half a mains period.
const swingSteps = 64

// envelopeSteps is the envelope's deviation c from its mean 1 within half a mains
// period: rectifiers conduct in bursts at the voltage's peaks, power going as
// exp(2·cos θ). Mean of c: 0.
var envelopeSteps = func() (c [swingSteps]float64) {
	var sum float64
	for i := range c {
		c[i] = math.Exp(2 * math.Cos(2*math.Pi*float64(i)/swingSteps))
		sum += c[i]
	}
	for i := range c {
		c[i] = c[i]*swingSteps/sum - 1
	}
	return c
}()

// envelopeStep gives the index into envelopeSteps at a mains phase in cycles.
func envelopeStep(cycles float64) int { return int(int64(2*cycles*swingSteps+0.5)) & (swingSteps - 1) }
