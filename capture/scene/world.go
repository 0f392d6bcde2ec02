package scene

import (
	"math"
	"time"

	"nightfloor/survey/sun"
)

// A world is everything outside the receiver.
type world struct {
	start    time.Time
	lat, lon float64
	stations []station
	supplies []supply
	airs     []air
}

func newWorld(seed uint64, start time.Time, lat, lon float64) *world {
	return &world{start: start.UTC(), lat: lat, lon: lon, stations: newStations(seed), supplies: houseSupplies(), airs: newAirs(seed)}
}

// since gives the scene's seconds at a time.
func (w *world) since(t time.Time) float64 { return t.Sub(w.start).Seconds() }

// timeOfDay gives the seconds of the UTC day at t.
func (w *world) timeOfDay(t float64) float64 {
	s := w.start
	midnight := float64(s.Hour()*3600+s.Minute()*60+s.Second()) + 1e-9*float64(s.Nanosecond())
	return math.Mod(midnight+t, 86400)
}

// daylight runs from 0, the sun 10° under the horizon, to 1, 10° above it.
func (w *world) daylight(t float64) float64 {
	at := w.start.Add(time.Duration(t * 1e9))
	return smooth((sun.Elevation(at, w.lat, w.lon) + 10) / 20)
}

// smooth rises from 0 at x = 0 to 1 at x = 1.
func smooth(x float64) float64 {
	x = max(0, min(1, x))
	return x * x * (3 - 2*x)
}
