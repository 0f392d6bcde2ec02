package capture

import (
	"errors"
	"fmt"
	"math"

	"nightfloor/survey"
)

// A Tuning is a centre frequency and the segment that is measured there.
type Tuning struct {
	Centre  survey.Hz
	Segment survey.Segment
}

// guard keeps a segment's edge away from the DC spike [trade practice: 1–5 kHz].
const guard = 5e3

// Tunings places each segment beside the DC spike, wholly within the usable
// passband (the central two thirds of the sample rate). The error names every
// segment that is too wide for the rate.
//
// Centres stand 1,150 Hz off the 5 kHz raster: the mirror image of a station on
// the raster then falls 2,300 Hz beside it, where no station is.
func Tunings(segments []survey.Segment, rate survey.Hz) ([]Tuning, error) {
	const raster, off = 5e3, 1150
	var errs []error
	var out []Tuning
	for _, s := range segments {
		centre := survey.Hz(math.Floor(float64(s.Low-guard-off)/raster)*raster + off)
		if reach := s.High - centre; reach > rate/3 {
			need := 3 * (s.High - s.Low + guard + raster)
			errs = append(errs, fmt.Errorf("segment %s: %v wide, and %v samples a second take in %v beside the DC spike; set a sample rate of %v or more, or split the segment",
				s.Name, s.High-s.Low, float64(rate), survey.Hz(math.Floor(float64(rate/3-guard-raster))), need))
			continue
		}
		out = append(out, Tuning{Centre: centre, Segment: s})
	}
	return out, errors.Join(errs...)
}
