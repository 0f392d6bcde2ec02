package calibrate

import (
	"fmt"
	"math"
	"strings"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// A byLabels is the noise figure that own noise and a level at a lower gain imply, by the labels of the gains between.
type byLabels struct {
	figure    survey.DB
	noise     *survey.Calibration
	gain, low survey.DB // of own noise, and of the level
	least     survey.DB // the lowest gain at which own noise is known
}

// figureByLabels gives the lowest, nil where no own noise near the generator's frequency is known at a gain above those of
// the run's levels.
func (r *Run) figureByLabels() (best *byLabels) {
	highest := r.Levels[0]
	for _, l := range r.Levels {
		if l.Gain > highest.Gain {
			highest = l
		}
	}
	least := survey.DB(math.Inf(1))
	for i := range r.settings.Earlier {
		of := &r.settings.Earlier[i]
		for _, n := range of.Noise {
			middle := (n.Segment.Low + n.Segment.High) / 2
			own, _, ok := level.Own(n, r.calibrator.Receiver().SampleRate)
			if !ok || n.Gain <= highest.Gain || math.Abs(float64(middle/highest.Frequency-1)) > oneFrontEnd {
				continue
			}
			least = min(least, n.Gain)
			f := survey.DB(10*math.Log10(own)) + survey.DB(highest.FullScale) - (n.Gain - highest.Gain) - survey.DB(level.RoomNoise)
			if best == nil || f < best.figure {
				best = &byLabels{figure: f, noise: of, gain: n.Gain, low: highest.Gain}
			}
		}
		if best != nil {
			best.least = least
			return best
		}
	}
	return nil
}

const (
	// labelsOff is by how much labels may be off over the gains of a tuner (PHYSICS.md 7.11, as where two
	// runs have no gain in common). TestUncheckedLevel fails when it moves.
	labelsOff survey.DB = 6
	// oneFrontEnd is how far apart, as a share, two frequencies may be whose full scale counts as alike
	// (PHYSICS.md 7.11).
	oneFrontEnd = 0.1
)

// unchecked judges a generator's level of which no gain tells a noise figure, by what else is known: earlier
// levels that one was told of, which the run is compared with, or the labels of the gains. It doubts what is left open.
func (r *Run) unchecked(earlier []*survey.Calibration) error {
	if len(r.Levels) == 0 || r.settings.By != survey.BasisGenerator || tells(r.Figures) || r.plan.FrontEnd.Direct() {
		return nil
	}
	const first = "nothing tells whether the level is right: run nightfloor calibrate noise, which checks it"
	if r.settings.Changed {
		r.doubt(first)
		return nil
	}
	for _, of := range earlier {
		if tells(level.Figures(of, of.Noise, r.calibrator.Receiver().SampleRate, earlier, r.At)) {
			return nil
		}
	}
	f := r.figureByLabels()
	if f == nil {
		r.doubt(first)
		return nil
	}
	is := fmt.Sprintf("by the labels of the gains from %g to %g dB it would be about %s dB", float64(f.low), float64(f.gain), strings.Replace(fmt.Sprintf("%.0f", float64(f.figure)), "-", "−", 1))
	if f.figure < -labelsOff {
		return fmt.Errorf("the noise figure cannot be right: %s, and nothing real is under 0: the level was told too low (another unit, or a pad or a cable taken off twice), or own noise of calibration %d is not of the receiver as it is now; mend what is wrong, calibration %d with nightfloor calibrate remove %d, or keep both with --changed if the receiver is not what it was",
			is, f.noise.ID, f.noise.ID, f.noise.ID)
	}
	lower := 10 * math.Ceil(float64(f.least-f.low+3)/10) // 3 dB: a gain or two more
	what := "tuners have 5 to 20, and labels may be off by 6"
	if f.figure > figureDoubted {
		what = "tuners have 5 to 20: was it told at the receiver's input, after pad and cable?"
	}
	r.doubt("the level could not be checked by the noise figure: at the gains measured own noise is under the converter's steps; %s (%s); add a run at a level %g dB lower", is, what, lower)
	return nil
}
