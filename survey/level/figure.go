package level

import (
	"math"
	"time"

	"nightfloor/survey"
)

// RoomNoise is k · 290 K, the noise that a terminator delivers (PHYSICS.md 1.1).
const RoomNoise survey.DBmPerHz = -173.975

// Rounding gives the noise density that rounding to 8 bits adds, in full-scale
// units per hertz: 1/12 of a squared step of 1/128, in I and in Q.
func Rounding(rate survey.Hz) float64 { return 2.0 / 12 / (128 * 128) / float64(rate) }

// Own gives what the receiver itself adds to its floor into a terminator, in full-scale units per hertz: less what
// rounding adds. Not where too few codes moved, or where that is over twice as much (TestOwn).
func Own(n survey.SelfNoise, rate survey.Hz) (own float64, sigma survey.DB, ok bool) {
	floor, added := n.Density.Linear(), Rounding(rate)
	own = floor - added
	if n.Rough() || !(own >= added/2) {
		return 0, 0, false
	}
	// What rounding adds is known to some tenth of itself at such low drives. Chosen (TestOwn).
	return own, survey.DB(math.Hypot(float64(n.Sigma)*floor/own, 10/math.Ln10*0.1*added/own)), true
}

// A Figure is a noise figure that own noise and a level at the same gain imply.
type Figure struct {
	Segment     string    `json:"segment"`
	Gain        survey.DB `json:"gain_db"` // the label
	Figure      survey.DB `json:"noise_figure_db"`
	Uncertainty survey.DB `json:"uncertainty_db"`

	Noise *survey.Calibration `json:"-"` // where own noise was measured
	Level Level               `json:"-"`
}

// Figures gives the noise figures by self-noise of a run, of a receiver at a sample rate, and the measured levels of
// runs, in order of preference: N + full scale − kT0.
func Figures(of *survey.Calibration, noise []survey.SelfNoise, rate survey.Hz, runs []*survey.Calibration, at time.Time) []Figure {
	return implied(of, noise, runs, at, func(n survey.SelfNoise) (float64, survey.DB, bool) { return Own(n, rate) })
}

// Ceilings gives the highest that noise figures may be where own noise is not known: it is not more than the whole
// floor, by the most that this may be off. None of the figures of Figures are among them.
func Ceilings(of *survey.Calibration, noise []survey.SelfNoise, rate survey.Hz, runs []*survey.Calibration, at time.Time) []Figure {
	return implied(of, noise, runs, at, func(n survey.SelfNoise) (float64, survey.DB, bool) {
		_, _, known := Own(n, rate)
		return (n.Density + survey.DBFSPerHz(n.Sigma)).Linear(), n.Sigma, !known
	})
}

// implied gives the noise figures by what own takes own noise for.
func implied(of *survey.Calibration, noise []survey.SelfNoise, runs []*survey.Calibration, at time.Time,
	own func(survey.SelfNoise) (density float64, sigma survey.DB, ok bool)) (figures []Figure) {
	for _, n := range noise {
		density, sigma, ok := own(n)
		l, there := Of(runs, (n.Segment.Low+n.Segment.High)/2, n.Gain)
		if ok && there && l.Measured() {
			figures = append(figures, Figure{Segment: n.Segment.Name, Gain: n.Gain, Figure: survey.DB(10*math.Log10(density)) + survey.DB(l.FullScale) - survey.DB(RoomNoise),
				Uncertainty: combined(l.Budget(at).Total(), sigma), Noise: of, Level: l})
		}
	}
	return figures
}

// Computed gives the self-noise at a gain at which too few codes moved for it to be measured: the receiver's own
// noise at the next higher gain at which it was measured, lowered by the measured step, with what rounding adds. That
// takes its noise figure for alike at both, so that it may be higher by a part of the step; it matters as much as
// the receiver's noise does beside rounding. Not ok: no such gain, or no measured levels at both.
func Computed(n survey.SelfNoise, all []survey.SelfNoise, rate survey.Hz, runs []*survey.Calibration) (c survey.SelfNoise, ok bool) {
	middle := (n.Segment.Low + n.Segment.High) / 2
	here, known := Of(runs, middle, n.Gain)
	if !known || !here.Measured() {
		return n, false
	}
	next := math.Inf(1)
	for _, higher := range all {
		own, sigma, measured := Own(higher, rate)
		if !measured || higher.Segment != n.Segment || higher.Gain <= n.Gain || float64(higher.Gain) >= next {
			continue
		}
		there, known := Of(runs, middle, higher.Gain)
		if !known || !there.Measured() || !there.Comparable(here) {
			continue
		}
		own *= math.Pow(10, float64(there.FullScale-here.FullScale)/10)
		total := own + Rounding(rate)
		c, ok, next = n, true, float64(higher.Gain)
		c.Density = survey.DensityOf(total)
		most := own*math.Pow(10, float64(figureRise*(higher.Gain-n.Gain))/10) + Rounding(rate) // with the highest figure that may be
		c.Sigma = combined(survey.DB(own/total)*combined(sigma, here.Sigma, there.Sigma), survey.DB(10*math.Log10(most/total))/sqrt3)
	}
	return c, ok
}
