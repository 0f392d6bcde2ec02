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

// figureDoubted is the noise figure from which on, at a tuner's best gain, something else is
// wrong (PHYSICS.md 7.9). TestImpliedFigures fails when it moves.
const figureDoubted survey.DB = 25

// judge compares own noise and levels with each other, by the noise figure that they imply, and with those of
// earlier runs. The error says why they cannot be stored.
func (r *Run) judge() error {
	var earlier []*survey.Calibration
	for i := range r.settings.Earlier {
		earlier = append(earlier, &r.settings.Earlier[i])
	}
	figures, ceilings := r.implied(earlier)
	r.Figures = figures
	if err := r.judgeFigures(ceilings); err != nil {
		return err
	}
	if err := r.unchecked(earlier); err != nil {
		return err
	}
	found := r.Calibration
	found.Noise = r.ownNoise() // also where it was measured on the way to levels
	d := level.Differs(found, earlier)
	if d == nil {
		return nil
	}
	what, why := "own noise", "an antenna or another terminator is connected now, or was then"
	switch {
	case d.Level:
		what, why = "full scale", "the level or what stands between was told wrongly, now or then"
	case d.By >= antennaOver:
		why = "an antenna seems to be connected in place of the terminator"
	}
	differs := fmt.Sprintf("%s differs from that of calibration %d at %d of %s, by %s dB at a gain of %g dB", what, d.Earlier.ID, d.Gains, survey.Count(d.Of, "figure"), signed(d.By), float64(d.Gain))
	if !level.SameGain(d.Gain, d.From) {
		differs += fmt.Sprintf(" against %g dB by the labels", float64(d.From))
	}
	if r.settings.Changed {
		r.doubt("%s: the receiver has changed, as the operator says", differs)
		return nil
	}
	return fmt.Errorf("%s: %s, or the receiver has drifted or was changed; take the wrong one out with nightfloor calibrate remove %d, or keep both with --changed if the receiver is not what it was",
		differs, why, d.Earlier.ID)
}

// implied gives the noise figures by own noise as it was measured in this run, or else in the newest one before it, and
// by levels likewise; and the highest that they may be where too few codes moved for own noise to be known.
func (r *Run) implied(earlier []*survey.Calibration) (figures, ceilings []level.Figure) {
	if r.Kind != survey.CalibrateNoise && r.Kind != survey.CalibrateLevel {
		return nil, nil
	}
	all := append([]*survey.Calibration{&r.Calibration}, earlier...)
	type place struct {
		segment string
		gain    survey.DB
	}
	measured, bounded := map[place]bool{}, map[place]bool{}
	for _, of := range all {
		noise := of.Noise
		if of == &r.Calibration {
			noise = r.ownNoise()
		}
		rate := r.calibrator.Receiver().SampleRate
		for _, f := range level.Figures(of, noise, rate, all, r.At) {
			p := place{f.Segment, f.Gain}
			if !measured[p] && r.restsOn(f) {
				figures = append(figures, f)
			}
			measured[p] = true
		}
		for _, f := range level.Ceilings(of, noise, rate, all, r.At) {
			p := place{f.Segment, f.Gain}
			if !measured[p] && !bounded[p] && r.restsOn(f) {
				ceilings = append(ceilings, f)
			}
			bounded[p] = true
		}
	}
	return figures, ceilings
}

// restsOn says whether a figure rests on the run and is of one receiver: one that has changed since is told by both
// figures of the run alone.
func (r *Run) restsOn(f level.Figure) bool {
	noise, levels := f.Noise == &r.Calibration, slices.Contains(f.Level.Runs, &r.Calibration)
	if r.settings.Changed {
		return noise && levels && len(f.Level.Runs) == 1
	}
	return noise || levels
}

// ownNoise gives the self-noise of the run, also where it was measured on the way to levels.
func (r *Run) ownNoise() (noise []survey.SelfNoise) {
	for _, n := range r.SelfNoise {
		noise = append(noise, n.SelfNoise)
	}
	return noise
}

// lowest gives the lowest of some figures, infinity for none. A level far away in frequency proves nothing.
func lowest(figures []level.Figure) level.Figure {
	best := level.Figure{Figure: survey.DB(math.Inf(1))}
	for _, f := range figures {
		if f.Figure < best.Figure && !f.Level.Far {
			best = f
		}
	}
	return best
}

// tells says whether any of some figures judges a level.
func tells(figures []level.Figure) bool { return !math.IsInf(float64(lowest(figures).Figure), 1) }

// judgeFigures tells what no receiver has, also by the highest that it may be.
func (r *Run) judgeFigures(ceilings []level.Figure) error {
	best, would := lowest(r.Figures), "be"
	if most := lowest(ceilings); most.Figure < 0 && best.Figure >= 0 {
		best, would = most, "be under"
	}
	switch noise, from := best.Noise, best.Level.Runs; {
	case best.Figure < 0:
		is := fmt.Sprintf("the noise figure would %s %s dB at a gain of %g dB in %s, and nothing real is under 0: ", would, signed(best.Figure), float64(best.Gain), best.Segment)
		const low = "was told too low (another unit, or a pad or a cable taken off twice)"
		other, why := from[0], fmt.Sprintf("the level of calibration %d ", from[0].ID)+low
		switch {
		case noise != &r.Calibration:
			other, why = noise, fmt.Sprintf("the level %s, or own noise of calibration %d is not of the receiver as it is now", low, noise.ID)
		case other == noise:
			return errors.New(is + "the noise source has a lower ENR at the receiver's input than was told; take off what a pad behind it takes")
		}
		return fmt.Errorf("%s%s; mend what is wrong, calibration %d with nightfloor calibrate remove %d, or keep both with --changed if the receiver is not what it was", is, why, other.ID, other.ID)
	case best.Figure > figureDoubted && len(from) > 0 && !r.plan.FrontEnd.Direct():
		r.doubt("the noise figure is %.0f dB at the best gain, and tuners have 5 to 20: was the level told at the receiver's input, after pad and cable, and own noise measured into a terminator?", float64(best.Figure))
	}
	return nil
}

// signed writes a figure with its sign.
func signed(x survey.DB) string {
	return strings.Replace(fmt.Sprintf("%+.1f", float64(x)), "-", "−", 1)
}
