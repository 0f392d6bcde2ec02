package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// An AttenuatorTest is what was heard through an antenna at the same gains without an
// attenuator, with it, and without it once more. What fades and drifts meanwhile shows in the
// difference of the two without.
//
// A terminator delivers room noise, and so does the attenuator in proportion to what it takes
// off: with the receiver's own noise into a terminator subtracted, what an antenna delivers
// over room noise is left, and falls by the attenuation exactly.
type AttenuatorTest struct {
	Before, With, After SweepSet
	Attenuation         survey.DB            // as declared
	Earlier             []survey.Calibration // of the receiver, the newest first, for its own noise
}

// Errors that say what an attenuator did instead of taking off what was declared.
var (
	ErrAttenuator  = errors.New("the attenuator took nothing off")
	ErrAttenuation = errors.New("the attenuator takes off something else")
)

// Shares of the attenuation by which a segment falls (PHYSICS.md 7.8: an attenuator of
// 10 dB lowers what comes from outside by 8 to 11 dB, the receiver's own noise by under
// 3 dB; TestVerdict).
const (
	limitedTo    = 0.3
	externalFrom = 0.8
	externalTo   = 1.1
	productsFrom = 1.5 // of carriers, which fade
	compressedTo = 0.5 // carriers that fall so little while the floor falls were compressed
	// mostSigma is half of half the range of what comes from outside: a drop in its middle is
	// in it with 95 %.
	mostSigma = (externalTo - externalFrom) / 4
	// mistaken is the least share that an attenuator taken for another commonly has: 6 dB for 10
	// (TestFadingCarriers).
	mistaken = 0.6
	// fewCarriers is the least number that counts: fewer may fall by fading alone.
	fewCarriers = 3
)

// Attenuations that tell verdicts apart and leave something to measure.
const (
	LeastAttenuation survey.DB = 6
	MostAttenuation  survey.DB = 30
)

const (
	// alikeWithin is how far apart drops of one attenuator are at the most, beyond their
	// uncertainty: mismatch changes what it takes off over frequency (TestOtherAttenuation).
	alikeWithin survey.DB = 1
	// mostOutChange is from where on two measurements without the attenuator are doubted:
	// floors that wander so much leave no verdict (TestOutsDiffer).
	mostOutChange survey.DB = 1
	// leastTaken is less than any attenuator takes off.
	leastTaken survey.DB = 1
)

// An outcome is what became of a segment, with what the verdict wants beside it.
type outcome struct {
	survey.Linearity
	least  survey.DB   // that what comes from outside fell by, with 97.5 %; NaN: no floor
	strong []survey.DB // by how much each strong carrier fell
}

// Linearity gives what the attenuator changed in each segment, and what is to be doubted. The
// error wraps ErrAttenuator where nothing fell, ErrAttenuation where carriers and floors fell
// alike by something else than was declared.
func (t AttenuatorTest) Linearity() (found []survey.Linearity, doubts []string, err error) {
	var all []outcome
	for _, s := range t.Before.segments {
		if len(t.Before.readings[s]) == 0 || len(t.With.readings[s]) == 0 || len(t.After.readings[s]) == 0 {
			continue
		}
		o := t.fallen(s)
		all, found = append(all, o), append(found, o.Linearity)
	}
	switch open, err := t.check(all); {
	case err != nil:
		return nil, nil, err
	case open != "":
		doubts = append(doubts, open)
	}
	var changed []string
	for _, l := range found {
		if c := l.OutChange; c != nil && math.Abs(float64(*c)) > float64(mostOutChange) {
			changed = append(changed, fmt.Sprintf("%s by %s dB", l.Segment.Name, signed(*c)))
		}
	}
	if len(changed) > 0 {
		doubts = append(doubts, fmt.Sprintf("levels without the attenuator changed from the first to the second time, in %s: fading, or the receiver drifts (let it run for half an hour first), or the attenuator was in one time; measure again", strings.Join(changed, ", ")))
	}
	return found, doubts, nil
}

// fallen measures by how much a segment fell.
func (t AttenuatorTest) fallen(s survey.Segment) outcome {
	o := outcome{Linearity: survey.Linearity{Segment: s, Gain: t.Before.readings[s][0].Gain.DB, Attenuation: t.Attenuation}}
	before, with, after := t.Before.floor(s), t.With.floor(s), t.After.floor(s)
	without := between(before, after)
	raw := dropOf(without, with)
	o.FloorDrop, o.FloorSigma, o.least = known(raw.by), known(raw.sigma), raw.least
	o.OutChange = known(dropOf(after, before).by)
	if n, _, ok := ownNoise(t.Earlier, s, o.Gain); ok {
		outside := outsideDrop(without, with, uncertain(n))
		o.OutsideDrop, o.OutsideSigma = known(outside.by), known(outside.sigma)
		if outside.least > o.least {
			o.least = outside.least
		}
	}
	fell := t.carrierDrops(s, without.value)
	if o.strong, o.Carriers = fell.strong, len(fell.all); o.Carriers > 0 {
		drop, sigma := medianAndError(fell.all)
		change := medianOf(slices.Clone(fell.changes), identity)
		sigma = max(sigma, fadingError(fell.changes))
		o.CarrierDrop, o.CarrierSigma = &drop, known(survey.DB(math.Hypot(float64(sigma), float64(change)/2)))
		if o.OutChange == nil && o.Carriers >= fewCarriers {
			o.OutChange = &change
		}
	}
	o.Verdict = verdict(o.Linearity, o.least)
	return o
}

// fadingError gives the standard error of the median drop of carriers that fade at random, by how
// much each changed between the two times without the attenuator. Those changes have twice the
// variance of a level, a drop from the mean of two has 1.5 times, and a median scatters 1.2533 times
// as much as a mean (TestFadingCarriers).
func fadingError(changes []survey.DB) survey.DB {
	sum := 0.0
	for _, c := range changes {
		sum += float64(c * c)
	}
	return survey.DB(1.2533 * math.Sqrt(0.75*sum) / float64(len(changes)))
}

// A drop is by how many dB something fell; NaN is not known.
type drop struct {
	by, sigma survey.DB
	least     survey.DB // with 97.5 %
}

// inDB gives 10·log of the ratio of two powers, NaN where one is not above zero.
func inDB(a, b float64) survey.DB {
	if !(a > 0 && b > 0) {
		return survey.DB(math.NaN())
	}
	return survey.DB(10 * math.Log10(a/b))
}

// between gives what the mean of two measurements tells of the time between them. If what
// is measured wanders at random by q each time, the middle differs from the mean of its
// neighbours by q/√2 and they differ by q·√2: half their difference is the standard error.
func between(a, b measured) measured {
	return measured{(a.value + b.value) / 2, math.Hypot(math.Hypot(a.sigma, b.sigma)/2, (a.value-b.value)/2)}
}

// dropOf gives by how much b stands under a.
func dropOf(a, b measured) drop {
	return drop{inDB(a.value, b.value), survey.DB(10 / math.Ln10 * math.Hypot(a.sigma/a.value, b.sigma/b.value)),
		inDB(a.value-2*a.sigma, b.value+2*b.sigma)}
}

// outsideDrop is dropOf with the receiver's own noise subtracted, whose error moves both
// alike. Where it hides what is left with the attenuator, only the least is known.
func outsideDrop(a, b, own measured) drop {
	x, y := a.value-own.value, b.value-own.value
	sigmaX, sigmaY := math.Hypot(a.sigma, own.sigma), math.Hypot(b.sigma, own.sigma)
	d := drop{survey.DB(math.NaN()), survey.DB(math.NaN()), inDB(x-2*sigmaX, max(y, 0)+2*sigmaY)}
	if x > 2*sigmaX && y > 2*sigmaY {
		d.by = inDB(x, y)
		d.sigma = survey.DB(10 / math.Ln10 * math.Hypot(math.Hypot(a.sigma/x, b.sigma/y), own.sigma*(1/y-1/x)))
	}
	return d
}

// known gives a figure, nil where it is NaN.
func known(x survey.DB) *survey.DB {
	if math.IsNaN(float64(x)) {
		return nil
	}
	return &x
}

// ownDrift is how far gain and own noise drift after they were calibrated, some tenths of a
// dB (PHYSICS.md 7.7; TestOwnNoiseDrifts).
const ownDrift survey.DB = 0.3

// ownNoise gives the receiver's own noise of a segment at a gain by the newest calibration that
// has it, and that calibration's number.
func ownNoise(earlier []survey.Calibration, s survey.Segment, gain survey.DB) (n survey.SelfNoise, of int64, ok bool) {
	for _, c := range earlier {
		for _, n := range c.Noise {
			if n.Segment == s && level.SameGain(n.Gain, gain) {
				return n, c.ID, true
			}
		}
	}
	return n, 0, false
}

// uncertain gives own noise with the error that it has later.
func uncertain(n survey.SelfNoise) measured {
	density := n.Density.Linear()
	return measured{density, density * (math.Pow(10, math.Hypot(float64(n.Sigma), float64(ownDrift))/10) - 1)}
}

// verdict tells what a segment's drops mean; least is what came from outside fell by at the
// least. What own noise hides falls less, never more. Where the drop's standard error leaves
// it open there is no verdict.
func verdict(l survey.Linearity, least survey.DB) string {
	share := func(drop *survey.DB) float64 { // NaN: none
		if drop == nil {
			return math.NaN()
		}
		return float64(*drop / l.Attenuation)
	}
	floor, floorSigma := share(l.FloorDrop), share(l.FloorSigma)
	carriers, carriersSigma := share(l.CarrierDrop), share(l.CarrierSigma)
	if l.Carriers < fewCarriers {
		carriers = math.NaN()
	}
	within := func(x, from, to float64) bool { return x >= from && x <= to }
	switch {
	case carriers-2*carriersSigma > productsFrom, least > externalTo*l.Attenuation:
		return survey.VerdictProducts
	case l.FloorDrop == nil:
		if within(carriers, externalFrom, externalTo) && carriersSigma <= mostSigma {
			return survey.VerdictExternal
		}
	case floor+2*floorSigma < limitedTo && floor-2*floorSigma > -limitedTo:
		return survey.VerdictLimited
	case floorSigma > mostSigma:
	case within(floor, limitedTo, externalFrom):
		return survey.VerdictMixed
	case within(floor, externalFrom, externalTo) && !(share(l.OutsideDrop) > externalTo) && !(carriers < compressedTo):
		return survey.VerdictExternal
	}
	return survey.VerdictUnclear
}

// check says in words what leaves open what the attenuator takes off, "" for nothing, and
// refuses one that takes off something else than was declared: where no segment fell as declared
// and most floors fell alike.
func (t AttenuatorTest) check(all []outcome) (open string, err error) {
	what, taken, sigma := takenOff(all)
	if what == "" || what == byFloors && taken > t.Attenuation { // products fall by more
		return "what the attenuator takes off could not be checked: few strong carriers, and no own noise known to subtract from the floors; measure with calibrate noise first", nil
	}
	open = fmt.Sprintf("%s fell by %.1f ± %.1f dB, which leaves open what the attenuator takes off; measure again with more sweeps, when it fades less, or with own noise known by calibrate noise", what, float64(taken), float64(sigma))
	as, alike, unlike := t.others(all, taken)
	switch {
	case t.declared(taken, 0) && taken-3*sigma >= mistaken*t.Attenuation: // a few carriers tell sigma roughly
		return "", nil
	case t.declared(taken, sigma):
		return open, nil
	case as:
		return "", nil
	case unlike > 0 && unlike >= alike, alike == 0 && taken > t.Attenuation: // products fall by more
		return open, nil
	case taken < -leastTaken:
		return "", fmt.Errorf("%w: %s rose by %.1f dB when it was put in; is in taken for out?", ErrAttenuator, what, -float64(taken))
	case taken < leastTaken:
		return "", fmt.Errorf("%w: %s stand as they did; see that it goes in when it is to", ErrAttenuator, what)
	}
	if alike > 0 && !strings.HasSuffix(what, byFloors) {
		what += " and the floor"
	}
	whole := survey.DB(math.Round(float64(taken)))
	advice := fmt.Sprintf("put the right one in, or give --attenuation \"%g dB\"", float64(whole))
	if whole < LeastAttenuation || whole > MostAttenuation { // which the command refuses
		advice = "put the right one in"
	}
	return "", fmt.Errorf("%w: %.1f dB, not %g, by which %s fell; %s; if the receiver was overdriven, measure at a lower gain",
		ErrAttenuation, float64(taken), float64(t.Attenuation), what, advice)
}

// declared tells whether a drop may be what was declared, by its standard error.
func (t AttenuatorTest) declared(by, sigma survey.DB) bool {
	return by+2*sigma >= externalFrom*t.Attenuation && by-2*sigma <= externalTo*t.Attenuation
}

// others compares floors with what the attenuator seems to take off: how many fell alike and how
// many did not. as: a segment surely fell as declared.
func (t AttenuatorTest) others(all []outcome, taken survey.DB) (as bool, alike, unlike int) {
	sure := mostSigma * t.Attenuation
	for _, o := range all {
		as = as || len(o.strong) >= fewCarriers && *o.CarrierSigma <= sure && t.declared(medianOf(o.strong, identity), 0)
		floor, sigma := o.OutsideDrop, o.OutsideSigma
		hidden := floor == nil // own noise that is not known may hide how far it fell
		if hidden {
			floor, sigma = o.FloorDrop, o.FloorSigma
		}
		switch {
		case floor == nil:
		case math.Abs(float64(*floor-taken)) <= float64(alikeWithin+2**sigma), hidden && *floor < taken && taken < t.Attenuation:
			alike++
		default:
			unlike++
		}
		as = as || floor != nil && *sigma <= sure && t.declared(*floor, 0)
	}
	return as, alike, unlike
}

const byFloors = "floors without own noise"

// takenOff tells by what an attenuator can be judged, in words, by how much that fell and its
// standard error: by strong carriers, which fade, or by floors with own noise subtracted, where
// those agree with them and are known better, or stand alone.
func takenOff(all []outcome) (what string, taken, sigma survey.DB) {
	var strong, strongSigmas, floors, floorSigmas []survey.DB
	for _, o := range all {
		if len(o.strong) > 0 {
			strong, strongSigmas = append(strong, o.strong...), append(strongSigmas, *o.CarrierSigma)
		}
		if o.OutsideDrop != nil && *o.OutsideSigma <= mostSigma*o.Attenuation {
			floors, floorSigmas = append(floors, *o.OutsideDrop), append(floorSigmas, *o.OutsideSigma)
		}
	}
	byCarriers := survey.Count(len(strong), "strong carrier")
	if len(strong) < fewCarriers {
		if len(floors) == 0 {
			return "", 0, 0
		}
		taken, sigma = judged(floors, floorSigmas)
		return byFloors, taken, sigma
	}
	taken, sigma = judged(strong, strongSigmas)
	if len(floors) > 0 {
		by, known := judged(floors, floorSigmas)
		if apart := math.Abs(float64(by - taken)); known < sigma && apart <= float64(alikeWithin)+2*math.Hypot(float64(known), float64(sigma)) {
			return byCarriers + " and " + byFloors, by, known
		}
	}
	return byCarriers, taken, sigma
}

// judged gives the median of drops and its standard error. That of the median segment is not
// reduced by their number, since drift is common to them.
func judged(drops, sigmas []survey.DB) (median, sigma survey.DB) {
	median, sigma = medianAndError(drops)
	return median, max(sigma, medianOf(sigmas, identity))
}
