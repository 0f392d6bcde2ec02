package calibrate

import (
	"context"
	"math"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A SweepSet is the readings of several sweeps through one antenna at fixed gains.
type SweepSet struct {
	segments []survey.Segment
	readings map[survey.Segment][]survey.Reading
}

// Sweeps makes sweeps through the antenna in place. A pilot sweep finds the gains the
// first time; later calls keep them.
func (k *Calibrator) Sweeps(ctx context.Context, sweeps int) (SweepSet, error) {
	h := SweepSet{readings: map[survey.Segment][]survey.Reading{}}
	for _, t := range k.sweeper.Tunings() {
		h.segments = append(h.segments, t.Segments...)
	}
	if err := k.sweeper.Prepare(ctx, k.setup); err != nil {
		return h, err
	}
	done := 0
	err := k.sweeper.Visit(ctx, k.setup, sweeps, func() bool { return false }, func(readings []survey.Reading) error {
		for _, r := range readings {
			h.readings[r.Segment] = append(h.readings[r.Segment], r)
		}
		done++
		k.Progress(done, sweeps)
		return nil
	})
	return h, err
}

// Overloaded names the segments that were overloaded in half of the sweeps or more.
func (h SweepSet) Overloaded() []string {
	var names []string
	for _, s := range h.segments {
		n := 0
		for _, r := range h.readings[s] {
			if r.Quality.Has(survey.FlagOverload) {
				n++
			}
		}
		if n > 0 && 2*n >= len(h.readings[s]) {
			names = append(names, s.Name)
		}
	}
	return names
}

// floor gives the mean density of a segment over the sweeps, NaN for none.
func (h SweepSet) floor(s survey.Segment) float64 {
	sum, n := 0.0, 0.0
	for _, r := range h.readings[s] {
		if r.Floor != nil {
			sum += r.Floor.Density.Linear()
			n++
		}
	}
	return sum / n
}

// lineAt gives the mean power of a line over the sweeps and its standard error. In sweeps
// in which it is not detected, it is measured by force; both are NaN where no sweep can
// tell.
func (h SweepSet) lineAt(s survey.Segment, f survey.Hz) (power, sigma float64) {
	variance, n := 0.0, 0.0
	for _, r := range h.readings[s] {
		best, found := survey.Carrier{}, false
		for _, c := range r.Carriers {
			if c.Detected && math.Abs(float64(c.Frequency-f)) <= float64(r.Resolution) && (!found || c.Power > best.Power) {
				best, found = c, true
			}
		}
		if !found {
			forced := r
			forced.Carriers = nil
			capture.MeasureForced(&forced, []survey.Hz{f})
			if len(forced.Carriers) == 0 {
				continue
			}
			best = forced.Carriers[0]
		}
		power, variance, n = power+best.Power, variance+best.Sigma*best.Sigma, n+1
	}
	return power / n, math.Sqrt(variance) / n
}
