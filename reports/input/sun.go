package input

import (
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey/sun"
)

// A SunAt is the place over which the sun is told, in degrees.
type SunAt struct{ Lat, Lon float64 }

// Suns gives the places of the surveys whose locator is known.
func (in Input) Suns() map[int64]SunAt {
	at := map[int64]SunAt{}
	for _, s := range in.Surveys {
		if lat, lon, err := sun.ParseLocator(s.Site.Locator); err == nil {
			at[s.ID] = SunAt{lat, lon}
		}
	}
	return at
}

// Twilight is how far over and under the horizon the middle of the sun may
// stand for it to be dusk or dawn, in degrees: down to civil twilight, and as far
// up, since the D layer of the ionosphere builds up and decays that long (PHYSICS.md 3.2).
// TestPeriodsByTheSun fails when it moves.
const Twilight = 6

// PeriodAt gives the period of an instant at a site: night under −6° of sun, day
// over +6°, between them dawn while the sun rises, dusk while it sets.
func PeriodAt(t time.Time, latDeg, lonDeg float64) string {
	switch h := sun.Elevation(t, latDeg, lonDeg); {
	case h < -Twilight:
		return result.PeriodNight
	case h > Twilight:
		return result.PeriodDay
	case sun.Rising(t, lonDeg):
		return result.PeriodDawn
	}
	return result.PeriodDusk
}
