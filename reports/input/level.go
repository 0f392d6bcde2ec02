package input

import (
	"math"

	"nightfloor/survey"
)

// oneBand is how far apart, as a share, two frequencies may be whose level references count
// as taken at one: a front end's gain does not change within a few per cent. Chosen
// (STATISTICS.md 5.3); TestStepsAtOneFrequency fails when it moves.
const oneBand = 0.05

// gainSteps turns labels of gain into measured gains, by segment. A tone of P dBm
// stands at P − FullScale dBFS, so that levels at two gains compare by the difference
// of their full scales. The first reading that is anchored stands at the gain of its
// label; the others follow from it.
type gainSteps map[string]gainAnchor

type gainAnchor struct {
	sum       survey.DB // of the label and what full scale stands for
	frequency survey.Hz // of the reference
}

// labelMeasured tells whether the reading's gain is a label that a generator measured. A
// noise figure measures none: it is assumed alike at all gains, which it is not.
func (k *CalibrationFor) labelMeasured(r *survey.Reading) bool {
	return k != nil && k.Level != nil && k.Level.Basis == survey.BasisGenerator && r.Gain.Known && !r.Gain.Exact
}

// anchor makes the reading the one from whose label its segment's gains are measured, if
// there is none yet.
func (steps gainSteps) anchor(r *survey.Reading, k *CalibrationFor) {
	if _, ok := steps[r.Segment.Name]; !ok && k.labelMeasured(r) {
		steps[r.Segment.Name] = gainAnchor{r.Gain.DB + survey.DB(k.Level.FullScale), k.Level.Frequency}
	}
}

// measured gives the reading's gain, exact where it is a label with a reference from
// a generator. References of one segment must stand near one frequency, else their
// difference is the front end's over frequency, too.
func (steps gainSteps) measured(r *survey.Reading, k *CalibrationFor) survey.Gain {
	if !k.labelMeasured(r) {
		return r.Gain
	}
	a := steps[r.Segment.Name]
	if apart(a.frequency, k.Level.Frequency) > oneBand {
		return r.Gain
	}
	return survey.Gain{DB: a.sum - survey.DB(k.Level.FullScale), Known: true, Exact: true}
}

// apart gives the distance of two frequencies as a share of the first.
func apart(f, g survey.Hz) float64 { return math.Abs(float64(g-f)) / float64(f) }

// levelOf gives the level reference for a segment at a gain out of runs in order of
// preference, and its run: one from a generator before one from a noise figure, the
// nearest in frequency, of those equally near the first.
func levelOf(runs []*survey.Calibration, segment survey.Segment, gain survey.DB) (best *survey.LevelReference, of *survey.Calibration) {
	middle := (segment.Low + segment.High) / 2
	for _, basis := range []string{survey.BasisGenerator, survey.BasisFigure} {
		least := math.Inf(1)
		for _, run := range runs {
			for i := range run.Levels {
				l := &run.Levels[i]
				away := max(oneBand, apart(middle, l.Frequency))
				if l.Basis == basis && sameGain(l.Gain, gain) && away < least {
					best, of, least = l, run, away
				}
			}
		}
		if best != nil {
			return best, of
		}
	}
	return nil, nil
}
