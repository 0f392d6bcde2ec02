package calibrate

import (
	"errors"
	"fmt"
	"math"

	"nightfloor/survey"
)

// ErrAttenuator says that nothing became weaker by the attenuator.
var ErrAttenuator = errors.New("the attenuator took nothing off")

// Linearity compares what was heard without and with an attenuator in front of
// the receiver, at the same gains: one entry a segment. The error wraps
// ErrAttenuator where no floor fell, nor strong carriers in any segment that has some.
func Linearity(without, with SweepSet, attenuation survey.DB) ([]survey.Linearity, error) {
	var out []survey.Linearity
	fell, stood := false, 0
	for _, s := range without.segments {
		readings := without.readings[s]
		if len(readings) == 0 || len(with.readings[s]) == 0 {
			continue
		}
		l := survey.Linearity{Segment: s, Gain: readings[0].Gain.DB, Attenuation: attenuation}
		if drop := survey.DB(10 * math.Log10(without.floor(s)/with.floor(s))); drop == drop { // not NaN
			l.FloorDrop = &drop
			fell = fell || drop >= limitedTo*attenuation
		}
		all, strong := carrierDrops(without, with, s, attenuation)
		if l.Carriers = len(all); l.Carriers > 0 {
			drop := medianOf(all, identity)
			l.CarrierDrop = &drop
		}
		if len(strong) >= fewCarriers {
			fell = fell || medianOf(strong, identity) >= limitedTo*attenuation
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
// be known to half a dB (TestStrongCarriers).
const strongOver survey.DB = 15

// carrierDrops gives by how much the carriers of a segment fell, and those that are
// strong.
func carrierDrops(without, with SweepSet, s survey.Segment, attenuation survey.DB) (all, strong []survey.DB) {
	readings := without.readings[s]
	var carriers []observed
	for n, r := range readings {
		carriers = append(carriers, detectedCarriers(r, n)...)
	}
	floor := without.floor(s)
	for _, line := range steadyLines(carriers, readings[0].Resolution, (len(readings)+1)/2) {
		f := line.frequency()
		a, _ := without.lineAt(s, f)
		b, sigma := with.lineAt(s, f)
		least := max(b, 2*sigma)
		if !(a > 0 && least > 0) {
			continue
		}
		drop := survey.DB(10 * math.Log10(a/least))
		if b < 2*sigma && drop < productsFrom*attenuation {
			continue // it is lost in the noise, and the bound that is left says nothing
		}
		all = append(all, drop)
		if survey.DB(10*math.Log10(a/floor/float64(readings[0].Resolution))) >= strongOver {
			strong = append(strong, drop)
		}
	}
	return all, strong
}

// Shares of the attenuation by which a segment falls (PHYSICS.md 7.8: an attenuator of
// 10 dB lowers what comes from outside by 8 to 11 dB, the receiver's own noise by under
// 3 dB, products of intermodulation by over 15 dB; TestVerdict).
const (
	limitedTo    = 0.3
	externalFrom = 0.8
	externalTo   = 1.1
	productsFrom = 1.5
	compressedTo = 0.5 // carriers that fall so little while the floor falls were compressed
	// fewCarriers is the least number that counts: fewer may fall by fading alone.
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
