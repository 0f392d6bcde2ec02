package main

import (
	"math"
	"strings"
	"testing"

	"nightfloor/survey"
)

// A dongle with a large DC offset and a poor image hears the stations at the middle of a segment, on the raster, in each
// reading: nothing that is measured stands where it is tuned to, and no reading tells of a line there.
func TestStationsBesideTheOffset(t *testing.T) {
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, func(p string) string { return strings.Replace(p, "rounds = 6", "rounds = 1", 1) }, "dc -30", "image -30")
	b.record(t)
	heard, readings := 0, 0
	sweeps, _, _ := b.sweeps(t)
	for _, s := range sweeps {
		for _, r := range s.Readings {
			readings++
			if r.Quality.Has(survey.FlagLineAtCentre) || r.Centre >= r.Segment.Low-4e3 && r.Centre <= r.Segment.High+4e3 {
				t.Errorf("%s at %v: %v", r.Segment, r.Centre, r.Quality.Flags)
			}
			if math.Abs(float64(r.Quality.DC)+30) > 3 {
				t.Errorf("DC %.1f dBFS", r.Quality.DC)
			}
			for _, c := range r.Carriers {
				if math.Abs(float64(c.Frequency)-9.65e6) < 10 || math.Abs(float64(c.Frequency)-6.07e6) < 10 {
					heard++
				}
			}
		}
	}
	if readings == 0 || heard < readings {
		t.Errorf("stations heard %d times in %d readings", heard, readings)
	}
}
