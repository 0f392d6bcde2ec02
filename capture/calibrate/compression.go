package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// A Generator stands at the receiver's input.
type Generator interface {
	// Set sets its level at the input and returns when that is done.
	Set(ctx context.Context, told survey.DBm) error
}

// Rules for two levels of a generator.
const (
	// stepKnown is how well the step between two levels of a generator, or what a step
	// attenuator takes off, is known (chosen: 0.1 to 0.3 dB in their data sheets; TestTwoLevels).
	stepKnown survey.DB = 0.3
	// mostApart is from where on both levels are apart by another step than was told, at most
	// gains alike: a receiver that compresses so much at all gains is driven far too hard
	// (TestTwoLevels).
	mostApart survey.DB = 1
)

// ReasonCompresses says that full scale by a generator's higher level is more than by its lower one.
const ReasonCompresses = "the receiver is compressed"

// A levelRun is what one level of a generator gave.
type levelRun struct {
	told  survey.DBm
	found []survey.LevelReference
	left  []survey.SkippedStep
}

// at gives the level reference at a gain.
func (l levelRun) at(gain survey.DB) (ref survey.LevelReference, ok bool) {
	i := slices.IndexFunc(l.found, func(r survey.LevelReference) bool { return level.SameGain(r.Gain, gain) })
	if i < 0 {
		return ref, false
	}
	return l.found[i], true
}

// byGenerator gives full scale by a generator, at two levels where a second one was told.
func (r *Run) byGenerator(ctx context.Context) (how string, err error) {
	o := r.settings
	measure := func(told survey.DBm) (l levelRun, err error) {
		l.told = told
		var heard Surroundings
		if l.found, l.left, heard, err = r.calibrator.Levels(ctx, o.Frequency, told, o.Uncertainty); err != nil {
			return l, err
		}
		if r.Found == 0 {
			r.Found = heard.carrier()
		}
		how = fmt.Sprintf("generator, %g dBm ± %g dB at %v", float64(o.Level), float64(o.Uncertainty), o.Frequency)
		if words := r.FoundWords(); words != "" {
			how += ", " + words
		}
		if doubt := heard.besideDoubt(); doubt != "" && len(r.Doubts) == 0 {
			r.doubt("%s", doubt)
		}
		return l, r.calibrator.antennaInPlace(heard, r.plan.FrontEnd.Offset)
	}
	if o.SecondLevel == 0 {
		l, err := measure(o.Level)
		if r.Levels, r.Skipped = l.found, l.left; err != nil {
			return how, err
		}
		return how, r.calibrator.watch(ctx, showsGenerator)
	}
	var runs []levelRun
	for _, told := range []survey.DBm{o.Level, o.SecondLevel} {
		if err := o.Generator.Set(ctx, told); err != nil {
			return "", err
		}
		l, err := measure(told)
		if err != nil {
			return "", err
		}
		runs = append(runs, l)
	}
	if runs[0].told < runs[1].told {
		slices.Reverse(runs)
	}
	if err := r.calibrator.watch(ctx, showsGenerator); err != nil {
		return "", err
	}
	var doubts []string
	if r.Levels, r.Skipped, doubts, err = byBoth(runs[0], runs[1], r.calibrator.gains()); err != nil {
		return "", err
	}
	r.Doubts = append(r.Doubts, doubts...)
	return how + fmt.Sprintf(", and %g dBm", float64(o.SecondLevel)), nil
}

// byBoth gives full scale by two levels of a generator, the higher one first. Where both
// measured it they must agree; where it is more by the higher level the receiver is
// compressed there, and the lower level's counts. Gains are in rising order, and a receiver
// that is compressed at one may be at what was not measured by both below it.
func byBoth(high, low levelRun, gains []survey.DB) (found []survey.LevelReference, left []survey.SkippedStep, doubts []string, err error) {
	apart, disagree, compressed := compare(high, low, gains)
	if len(apart) == 0 {
		doubts = append(doubts, fmt.Sprintf("at no gain were both levels measured: whether the receiver is compressed at %g dBm was not seen", float64(high.told)))
	} else if middle := medianOf(apart, identity); math.Abs(float64(middle)) > float64(mostApart) {
		return nil, nil, nil, fmt.Errorf("the two levels read %.1f dB apart, not %g, at most gains: one of them was told wrongly, or %g dBm compress the receiver; take lower ones",
			float64(high.told-low.told)-float64(middle), float64(high.told-low.told), float64(high.told))
	}
	for i, gain := range gains {
		byHigh, okHigh := high.at(gain)
		byLow, okLow := low.at(gain)
		next := slices.IndexFunc(gains[i:], func(g survey.DB) bool { _, ok := low.at(g); return ok })
		doubtful := okHigh && !okLow && next >= 0 && slices.Contains(compressed, gains[i+next])
		switch {
		case okLow && (!okHigh || slices.Contains(compressed, gain) || byLow.Sigma < byHigh.Sigma):
			found = append(found, byLow)
		case doubtful:
			left = append(left, survey.SkippedStep{Gain: gain, Why: ReasonCompresses})
		case okHigh:
			found = append(found, byHigh)
		default:
			left = append(left, why(high, low, gain))
		}
	}
	if len(compressed) > 0 {
		doubts = append(doubts, fmt.Sprintf("%s at %g dBm at gains of %s dB, by %.1f dB at the most: full scale there is by %g dBm",
			ReasonCompresses, float64(high.told), gainsText(compressed), float64(slices.Max(apart)), float64(low.told)))
	}
	if len(disagree) > 0 {
		doubts = append(doubts, fmt.Sprintf("the two levels disagree at gains of %s dB, where the higher one reads higher: the step between them is not what was told, or something drifts", gainsText(disagree)))
	}
	return found, left, doubts, nil
}

// compare gives by how much full scale is more by the higher level, of each gain at which both
// measured it, and the gains at which that is more than its uncertainty, or less.
func compare(high, low levelRun, gains []survey.DB) (apart, disagree, compressed []survey.DB) {
	for _, gain := range gains {
		byHigh, ok := high.at(gain)
		byLow, too := low.at(gain)
		if !ok || !too {
			continue
		}
		by := survey.DB(byHigh.FullScale - byLow.FullScale)
		apart = append(apart, by)
		may := stepKnown + 2*survey.DB(math.Hypot(float64(byHigh.Sigma), float64(byLow.Sigma)))
		switch {
		case by > may:
			compressed = append(compressed, gain)
		case by < -may:
			disagree = append(disagree, gain)
		}
	}
	return apart, disagree, compressed
}

// why gives the reason why no level gave a figure at a gain, the lower level's where the higher
// clips.
func why(high, low levelRun, gain survey.DB) survey.SkippedStep {
	for _, l := range []levelRun{high, low} {
		for _, s := range l.left {
			if level.SameGain(s.Gain, gain) && (s.Why != ReasonClips || l.told == low.told) {
				return s
			}
		}
	}
	return survey.SkippedStep{Gain: gain, Why: ReasonNoCarrier}
}

// gainsText lists gains.
func gainsText(gains []survey.DB) string {
	var texts []string
	for _, g := range gains {
		texts = append(texts, strings.Replace(fmt.Sprintf("%.1f", float64(g)), "-", "−", 1))
	}
	return strings.Join(texts, ", ")
}

// A ProgramGenerator is set by a program of the user's. It is started without a shell, with the level
// in dBm as its last argument and as NIGHTFLOOR_LEVEL; exit status 0 says that it is done.
type ProgramGenerator struct {
	Argv    []string
	TimeOut time.Duration
}

// Set starts the program and waits for its end.
func (p ProgramGenerator) Set(ctx context.Context, told survey.DBm) error {
	return putBy(ctx, p.TimeOut, p.Argv, "NIGHTFLOOR_LEVEL", fmt.Sprintf("%g", float64(told)), "the generator was not set to")
}
