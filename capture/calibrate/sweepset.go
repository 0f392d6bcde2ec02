package calibrate

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"nightfloor/capture/force"
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

// A measured value has a standard error.
type measured struct{ value, sigma float64 }

// floor gives the mean density of a segment over the sweeps, NaN for none. Its error is that of
// the readings, or by their scatter where that is greater.
func (h SweepSet) floor(s survey.Segment) measured {
	var densities []float64
	variance := 0.0
	for _, r := range h.readings[s] {
		if r.Floor != nil {
			density := r.Floor.Density.Linear()
			densities = append(densities, density)
			sigma := density * math.Ln10 / 10 * float64(r.Floor.Sigma)
			variance += sigma * sigma
		}
	}
	n := float64(len(densities))
	m := measured{stat.Mean(densities, nil), math.Sqrt(variance) / n}
	if n > 1 {
		m.sigma = max(m.sigma, stat.StdErr(stat.StdDev(densities, nil), n))
	}
	return m
}

// lineAt gives the mean power of a line over the sweeps and its standard error. In sweeps
// in which it is not detected, it is measured by force; both are NaN where no sweep can
// tell.
func (h SweepSet) lineAt(s survey.Segment, f survey.Hz) measured {
	power, variance, n := 0.0, 0.0, 0.0
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
			force.Measure(&forced, []survey.Hz{f})
			if len(forced.Carriers) == 0 {
				continue
			}
			best = forced.Carriers[0]
		}
		power, variance, n = power+best.Power, variance+best.Sigma*best.Sigma, n+1
	}
	return measured{power / n, math.Sqrt(variance) / n}
}

// strongOver is how far a carrier stands over the floor in a bin for its level to
// be known to half a dB (TestStrongCarriers).
const strongOver survey.DB = 15

// A carrierFall is what became of a segment's carriers, one entry a carrier; strong has
// those of the strong ones.
type carrierFall struct{ all, changes, strong []survey.DB }

// carrierDrops gives by how much the carriers of a segment fell that stood there without
// the attenuator, over a floor, both times.
func (t AttenuatorTest) carrierDrops(s survey.Segment, floor float64) (found carrierFall) {
	readings := slices.Concat(t.Before.readings[s], t.After.readings[s])
	var carriers []observed
	for n, r := range readings {
		carriers = append(carriers, detectedCarriers(r, n)...)
	}
	for _, line := range steadyLines(carriers, readings[0].Resolution, (len(readings)+1)/2) {
		f := line.frequency()
		before, with, after := t.Before.lineAt(s, f), t.With.lineAt(s, f), t.After.lineAt(s, f)
		without := between(before, after)
		lost := with.value < 2*with.sigma
		with.value = max(with.value, 2*with.sigma)
		d := dropOf(without, with)
		if !(d.by == d.by) || lost && d.by < productsFrom*t.Attenuation {
			continue // it is lost in the noise, and the bound that is left says nothing
		}
		change := inDB(after.value, before.value)
		if change != change {
			continue
		}
		found.all, found.changes = append(found.all, d.by), append(found.changes, change)
		if inDB(without.value, floor*float64(readings[0].Resolution)) >= strongOver {
			found.strong = append(found.strong, d.by)
		}
	}
	return found
}
