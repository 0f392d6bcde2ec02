package calibrate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A Hearing is what several sweeps through one antenna heard at fixed gains.
type Hearing struct {
	segments []survey.Segment
	readings map[survey.Segment][]survey.Reading
}

// Hear makes sweeps through the antenna in place. The pilot finds the gains the
// first time; they stay for all times after.
func (k *Calibrator) Hear(ctx context.Context, sweeps int) (Hearing, error) {
	h := Hearing{readings: map[survey.Segment][]survey.Reading{}}
	for _, t := range k.sweeper.Tunings() {
		h.segments = append(h.segments, t.Segments...)
	}
	if err := k.sweeper.Prepare(ctx, k.setup); err != nil {
		return h, err
	}
	done := 0
	err := k.sweeper.Visit(ctx, k.setup, sweeps, func() bool { return false }, func(_ time.Time, readings []survey.Reading) error {
		for _, r := range readings {
			h.readings[r.Segment] = append(h.readings[r.Segment], r)
		}
		done++
		k.passed(done, sweeps)
		return nil
	})
	return h, err
}

// Overloaded names the segments that were overloaded in half of the sweeps or more.
func (h Hearing) Overloaded() []string {
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

// floor gives the mean density of a segment over the sweeps, nil for none.
func (h Hearing) floor(s survey.Segment) *float64 {
	sum, n := 0.0, 0
	for _, r := range h.readings[s] {
		if r.Floor != nil {
			sum += r.Floor.Density.Linear()
			n++
		}
	}
	if n == 0 {
		return nil
	}
	sum /= float64(n)
	return &sum
}

// lineAt gives the mean power of a line over the sweeps, that of sweeps in which
// it is not detected measured by force, and its standard error; ok is false
// where no sweep can tell.
func (h Hearing) lineAt(s survey.Segment, f survey.Hz) (power, sigma float64, ok bool) {
	variance, n := 0.0, 0
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
			capture.Force(&forced, []survey.Hz{f})
			if len(forced.Carriers) == 0 {
				continue
			}
			best = forced.Carriers[0]
		}
		power, variance, n = power+best.Power, variance+best.Sigma*best.Sigma, n+1
	}
	if n == 0 {
		return 0, 0, false
	}
	return power / float64(n), math.Sqrt(variance) / float64(n), true
}

// ErrAttenuator is what wraps a comparison in which nothing fell.
var ErrAttenuator = errors.New("the attenuator took nothing off")

// Linearity compares what was heard without and with an attenuator in front of
// the receiver, at the same gains: one entry a segment. The error wraps
// ErrAttenuator where no floor fell, nor strong carriers in any segment that has some.
func Linearity(without, with Hearing, attenuation survey.DB) ([]survey.Linearity, error) {
	var out []survey.Linearity
	fell, stood := false, 0
	for _, s := range without.segments {
		readings := without.readings[s]
		if len(readings) == 0 || len(with.readings[s]) == 0 {
			continue
		}
		l := survey.Linearity{Segment: s, Gain: readings[0].Gain.DB, Attenuation: attenuation}
		if a, b := without.floor(s), with.floor(s); a != nil && b != nil {
			drop := survey.DB(10 * math.Log10(*a / *b))
			l.FloorDrop = &drop
			fell = fell || drop >= limitedTo*attenuation
		}
		all, strong := carrierDrops(without, with, s, attenuation)
		if l.Carriers = len(all); l.Carriers > 0 {
			drop := medianOf(all, itself)
			l.CarrierDrop = &drop
		}
		if len(strong) >= fewCarriers {
			fell = fell || medianOf(strong, itself) >= limitedTo*attenuation
			stood += len(strong)
		}
		l.Verdict = verdict(l)
		out = append(out, l)
	}
	if stood > 0 && !fell {
		return nil, fmt.Errorf("%w: %d strong carriers stand as they did; was it put in?", ErrAttenuator, stood)
	}
	return out, nil
}

// strongOver is how far a carrier stands over the floor in a bin for its level to
// be known to half a dB.
const strongOver survey.DB = 15

// carrierDrops gives by how much the carriers of a segment fell, and those that are
// strong.
func carrierDrops(without, with Hearing, s survey.Segment, attenuation survey.DB) (all, strong []survey.DB) {
	readings := without.readings[s]
	var carriers []seen
	for n, r := range readings {
		carriers = append(carriers, detected(r, n)...)
	}
	floor := without.floor(s)
	for _, line := range steadyLines(carriers, readings[0].Resolution, (len(readings)+1)/2) {
		f := line.frequency()
		a, _, ok1 := without.lineAt(s, f)
		b, sigma, ok2 := with.lineAt(s, f)
		least := max(b, 2*sigma)
		if !ok1 || !ok2 || a <= 0 || least <= 0 {
			continue
		}
		drop := survey.DB(10 * math.Log10(a/least))
		if b < 2*sigma && drop < productsFrom*attenuation {
			continue // it has gone under, and the bound that is left says nothing
		}
		all = append(all, drop)
		if floor != nil && survey.DB(10*math.Log10(a / *floor / float64(readings[0].Resolution))) >= strongOver {
			strong = append(strong, drop)
		}
	}
	return all, strong
}

// Shares of the attenuation by which a segment falls (trade notes, 7.8: 10 dB
// take 8 to 11 off what comes from outside, under 3 off the receiver's own, over
// 15 off products).
const (
	limitedTo    = 0.3
	externalFrom = 0.8
	externalTo   = 1.1
	productsFrom = 1.5
	compressedTo = 0.5 // carriers that fall so little while the floor falls were compressed
	// fewCarriers that fade as they please do not contradict a floor.
	fewCarriers = 3
)

// verdict tells what a segment's drops mean.
func verdict(l survey.Linearity) string {
	share := func(drop *survey.DB) float64 { return float64(*drop / l.Attenuation) }
	several := l.CarrierDrop != nil && l.Carriers >= fewCarriers
	if several && share(l.CarrierDrop) > productsFrom {
		return survey.VerdictProducts
	}
	if l.FloorDrop == nil {
		if several && share(l.CarrierDrop) >= externalFrom && share(l.CarrierDrop) <= externalTo {
			return survey.VerdictExternal
		}
		return survey.VerdictUnclear
	}
	switch floor := share(l.FloorDrop); {
	case floor > productsFrom:
		return survey.VerdictProducts
	case floor > externalTo:
		return survey.VerdictUnclear
	case floor >= externalFrom:
		if several && share(l.CarrierDrop) < compressedTo {
			return survey.VerdictUnclear
		}
		return survey.VerdictExternal
	case floor >= limitedTo:
		return survey.VerdictMixed
	case floor > -limitedTo:
		return survey.VerdictLimited
	}
	return survey.VerdictUnclear // it rose
}
