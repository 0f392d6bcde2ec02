package scene

import "math"

// residential gives the median external noise figure of residential
// surroundings, dB (PHYSICS.md 4.2).
func residential(f float64) float64 { return 72.5 - 27.7*math.Log10(f*1e-6) }

// Atmospheric noise figures at night and by day at mid latitudes, dB: a short form of the
// world maps in [P.372] (PHYSICS.md 4.5). The form ends at 15 MHz; the values at 20 MHz are chosen.
var (
	lightningMHz   = []float64{5, 7, 10, 12, 15, 20}
	lightningNight = []float64{53, 48, 40, 34, 26, 16}
	lightningDay   = []float64{25, 28, 32, 33, 31, 28}
)

// atmospheric gives the atmospheric noise figure, dB, for a daylight of 0 (night) to 1 (day).
func atmospheric(f, daylight float64) float64 {
	mhz := f * 1e-6
	return (1-daylight)*interpolate(lightningMHz, lightningNight, mhz) + daylight*interpolate(lightningMHz, lightningDay, mhz)
}

// interpolate gives y at x by straight lines through the points, flat beyond them.
func interpolate(xs, ys []float64, x float64) float64 {
	if x <= xs[0] {
		return ys[0]
	}
	for i := 1; i < len(xs); i++ {
		if x <= xs[i] {
			share := (x - xs[i-1]) / (xs[i] - xs[i-1])
			return ys[i-1] + share*(ys[i]-ys[i-1])
		}
	}
	return ys[len(ys)-1]
}

// fieldOf gives the field density, (µV/m)²/Hz, of a noise figure in dB (PHYSICS.md 4.7).
func fieldOf(figure, f float64) float64 {
	return fromDB(figure + 20*math.Log10(f*1e-6) - 95.5)
}

// A density is noise at the receiver's terminal, mW/Hz: a steady part, and the mean of a
// part that the mains modulate. Where in the mains period the envelope is 1 + c, both
// together are steady + mean + swing·c.
type density struct{ steady, mean, swing float64 }

func (d density) total() float64 { return d.steady + d.mean }

// noise gives the density at frequency f and time t through a setup, the
// receiver's front end included.
func (w *world) noise(m mounted, f, t float64) density {
	a, p := antennas[m.kind], placements[m.room]
	field := fieldOf(atmospheric(f, w.daylight(t)), f)*fromDB(a.sky-p.loss) +
		fieldOf(residential(f), f)*fromDB(a.ground+p.wiring) + fromDB(a.ownNoise)
	d := density{steady: frontEndNoise + field*m.terminalPower()}
	for _, s := range w.supplies {
		if _, on := s.since(w.timeOfDay(t)); on {
			hash := s.hash(f) * s.coupling(m, f) * m.terminalPower()
			d.mean += hash
			d.swing += hash * s.depth
		}
	}
	return d
}
