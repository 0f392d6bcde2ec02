package capture

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"nightfloor/survey"
)

// A Tuning is a centre frequency and the segments that are measured there.
type Tuning struct {
	Centre   survey.Hz
	Segments []survey.Segment
}

// guard keeps a segment's edge away from the DC spike (PHYSICS.md 7.4: 1 to 5 kHz).
const guard = 5e3

// Centres stand 1,150 Hz off the 5 kHz raster: the mirror image of a station on
// the raster then falls 2,300 Hz beside it, where no station is.
const (
	raster              = survey.BroadcastRaster
	offRaster survey.Hz = 1150
)

// Tunings places segments clear of the DC spike, wholly within the usable
// passband (the central two thirds of the sample rate), in rising order and
// with as few tunings as will do: neighbours share one. The error names every
// segment that is too wide for the rate.
func Tunings(segments []survey.Segment, rate survey.Hz) ([]Tuning, error) {
	var errs []error
	for _, s := range segments {
		if _, ok := centreFor([]survey.Segment{s}, rate); !ok {
			need := 3 * (s.High - s.Low + guard + raster)
			errs = append(errs, fmt.Errorf("segment %s: %v wide, and %s take in %v beside the DC spike; set a sample rate of %v or more, or split the segment",
				s.Name, s.High-s.Low, survey.RateText(rate), survey.Hz(math.Floor(float64(rate/3-guard-raster))), need))
		}
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	rising := slices.Clone(segments)
	slices.SortStableFunc(rising, func(a, b survey.Segment) int { return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High)) })
	var out []Tuning
	for len(rising) > 0 {
		// What fits together fits without its last one too, so taking as many as
		// fit gives the fewest tunings.
		n, centre := 0, survey.Hz(0)
		for n < len(rising) {
			c, ok := centreFor(rising[:n+1], rate)
			if !ok {
				break
			}
			n, centre = n+1, c
		}
		out = append(out, Tuning{Centre: centre, Segments: rising[:n:n]})
		rising = rising[n:]
	}
	return out, nil
}

// centreFor gives a centre from which all segments lie in the usable passband
// and clear of the DC spike: below the lowest, or in a gap between two.
func centreFor(segments []survey.Segment, rate survey.Hz) (survey.Hz, bool) {
	low, high := segments[0].Low, segments[0].High
	for _, s := range segments {
		low, high = min(low, s.Low), max(high, s.High)
	}
	for _, s := range segments {
		centre := raster*survey.Hz(math.Floor(float64((s.Low-guard-offRaster)/raster))) + offRaster
		if high-centre > rate/3 || centre-low > rate/3 {
			continue
		}
		if !slices.ContainsFunc(segments, func(o survey.Segment) bool { return centre > o.Low-guard && centre < o.High+guard }) {
			return centre, true
		}
	}
	return 0, false
}
