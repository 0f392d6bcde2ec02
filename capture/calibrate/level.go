package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// Rules for a generator's carrier.
const (
	// leastOver is the least that it stands over the floor in a bin. Noise then changes its
	// amplitude by a tenth in a single average, and by far less in the mean
	// (TestGeneratorOverNoise).
	leastOver survey.DB = 20
	// mostLevel keeps it off the converter's highest and lowest code.
	mostLevel survey.DBFS = -1.5
	// undithered is the least level of a carrier while noise does not move the codes: an
	// amplitude of 8 codes, whose level rounding changes by 0.15 dB at most.
	undithered survey.DBFS = -24
	// leastUnder is how far under it others are in most readings: modulation by 20 % has sidebands
	// there. Chosen; TestCarriersBesideTheGenerator.
	leastUnder survey.DB = 20
)

// GeneratorHalf is half the width of what is looked at about a generator
// (TestGeneratorSegmentHoldsIt).
const GeneratorHalf survey.Hz = 25e3

// GeneratorSegment gives the segment in which a carrier of a known frequency is
// sought, wide enough for what an uncorrected clock makes of it.
func GeneratorSegment(f survey.Hz) survey.Segment {
	return survey.Segment{Name: f.String(), Low: f - GeneratorHalf, High: f + GeneratorHalf}
}

// Levels measures a generator's carrier, whose level is known so well, at every gain step: the
// strongest of the calibrator's segment, which is GeneratorSegment's. It hears what else the passband holds, too.
func (k *Calibrator) Levels(ctx context.Context, frequency survey.Hz, told survey.DBm, known survey.DB) (found []survey.LevelReference, left []survey.SkippedStep, heard Surroundings, err error) {
	segment := k.plan.Segments[0]
	if err := k.lookAround(); err != nil {
		return nil, nil, heard, err
	}
	var iq []byte
	k.samples = func(of []byte) { iq = append(iq[:0], of...) }
	defer func() { k.samples = nil }()
	steps := k.gains()
	k.pass = nil
	for i, gain := range steps {
		readings, err := k.takeAt(ctx, 0, gain)
		if err != nil {
			return nil, nil, heard, err
		}
		k.Progress(i+1, len(steps))
		r := readings[slices.IndexFunc(readings, func(r survey.Reading) bool { return r.Segment == segment })]
		k.pass = append(k.pass, []survey.Reading{r})
		carrier, why := generator(r)
		if why != "" {
			left = append(left, survey.SkippedStep{Gain: r.Gain.DB, Why: why})
			continue
		}
		seen, _ := survey.LevelOf(carrier.Power)
		found = append(found, survey.LevelReference{Frequency: frequency, Gain: r.Gain.DB, FullScale: told - survey.DBm(seen),
			Sigma: survey.DB(10 / math.Ln10 * carrier.Sigma / carrier.Power), Basis: survey.BasisGenerator, Uncertainty: &known})
		heard.add(carrier, r, readings, iq)
	}
	return found, left, heard, nil
}

// besideText says that others of the carriers of a reading stand so near the generator's in level that
// it may not be the strongest next time; "" where none do.
func besideText(first survey.Carrier, carriers []survey.Carrier) string {
	var second survey.Carrier
	for _, c := range carriers {
		if c.Frequency != first.Frequency && c.Power > second.Power {
			second = c
		}
	}
	under := inDB(first.Power, second.Power)
	if !(under < leastUnder) {
		return ""
	}
	return fmt.Sprintf("beside the generator's carrier stands another, %v from it and %.0f dB weaker: is it modulated, or a second generator or an antenna connected?",
		survey.Hz(math.Abs(math.Round(float64(second.Frequency-first.Frequency)))), float64(under))
}

// Reasons why a step gave no figure.
const (
	ReasonClips     = "it clips"
	ReasonNoCarrier = "no carrier"
	ReasonWeak      = "it drowns" // followed by how far
	ReasonFewCodes  = "too few codes for it to be measured"
)

// adviceFor says which run at another level gives what this one leaves out.
var adviceFor = map[string]string{
	ReasonClips:      "; a second run at a lower level adds them: runs add up",
	ReasonFewCodes:   "; a second run at a higher level adds them: runs add up",
	ReasonCompresses: "; a run at a lower level tells by how much",
}

// ByReason gathers the steps that gave no figure by why, a line each.
func ByReason(left []survey.SkippedStep) []string {
	var order []string
	gains := map[string][]string{}
	for _, l := range left {
		why := l.Why
		if strings.HasPrefix(why, ReasonWeak) { // by a different number of dB each
			why = ReasonWeak
		}
		if gains[why] == nil {
			order = append(order, why)
		}
		gains[why] = append(gains[why], strings.Replace(fmt.Sprintf("%.1f", float64(l.Gain)), "-", "−", 1))
	}
	for i, why := range order {
		order[i] = fmt.Sprintf("%s at %s dB%s", why, strings.Join(gains[why], ", "), adviceFor[why])
	}
	return order
}

// generator finds a generator's carrier in a reading, or says why it is of no use. Where
// no carrier stands over the floor, clipping is not blamed on it.
func generator(r survey.Reading) (best survey.Carrier, why string) {
	for _, c := range r.Carriers {
		if c.Power > best.Power {
			best = c
		}
	}
	stands, ok := survey.LevelOf(best.Power)
	if !ok {
		return best, ReasonNoCarrier
	}
	over := leastOver
	if r.Floor != nil {
		over = stands.Over(r.Floor.Density.In(r.Resolution))
	}
	switch {
	case over < leastOver:
		return best, fmt.Sprintf("%s: %.0f dB over the floor in a bin of %v", ReasonWeak, float64(over), survey.Hz(math.Round(float64(r.Resolution))))
	case r.Quality.Has(survey.FlagOverload) || r.Quality.ClippedShare > 0 || stands > mostLevel:
		return best, ReasonClips
	// Rounding a clean tone makes lines everywhere, so that there is no floor.
	case stands < undithered && (r.Floor == nil || !dithers(r)):
		return best, ReasonFewCodes
	}
	return best, ""
}

// LevelsFromFigure gives level references from a receiver's noise figure, which is known so well at the
// highest gain. With a terminator at its input the receiver's own noise is k·T·F; what was measured, less
// what rounding adds, is that.
func LevelsFromFigure(noise []survey.MeasuredNoise, figure, known survey.DB) (found []survey.LevelReference, left []survey.SkippedStep) {
	highest := survey.DB(math.Inf(-1))
	for _, n := range noise {
		highest = max(highest, n.Gain)
	}
	for _, n := range noise {
		own, sigma, ok := level.Own(n.SelfNoise, n.Rate)
		if !ok {
			left = append(left, hidden(n))
			continue
		}
		found = append(found, survey.LevelReference{Frequency: (n.Segment.Low + n.Segment.High) / 2, Gain: n.Gain, Basis: survey.BasisFigure,
			FullScale: survey.DBm(float64(level.RoomNoise) + float64(figure) - 10*math.Log10(own)), Sigma: sigma, Uncertainty: new(level.FigureAt(known, highest-n.Gain))})
	}
	return found, left
}

// hidden leaves out a step at which the receiver's own noise was not measured.
func hidden(n survey.MeasuredNoise) survey.SkippedStep {
	return survey.SkippedStep{Gain: n.Gain, Why: fmt.Sprintf("%s: the receiver's noise is hidden by the converter's steps", n.Segment.Name)}
}
