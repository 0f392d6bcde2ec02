package input

import (
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// gainSteps turns labels of gain into measured gains, by segment. A tone of P dBm
// stands at P − FullScale dBFS, so that levels at two gains compare by the difference
// of their full scales. The first reading that is anchored stands at the gain of its
// label; the others follow from it.
type gainSteps map[string]gainAnchor

type gainAnchor struct {
	label survey.DB
	level.Level
}

// labelMeasured tells whether the reading's gain is a label of which full scale was measured.
func (k *CalibrationFor) labelMeasured(r *survey.Reading) bool {
	return k != nil && k.Level != nil && k.Level.Measured() && r.Gain.Known && !r.Gain.Exact
}

// anchor makes the reading the one from whose label its segment's gains are measured, if
// there is none yet.
func (steps gainSteps) anchor(r *survey.Reading, k *CalibrationFor) {
	if _, ok := steps[r.Segment.Name]; !ok && k.labelMeasured(r) {
		steps[r.Segment.Name] = gainAnchor{r.Gain.DB, *k.Level}
	}
}

// measured gives the reading's gain, exact where it is a label that was measured. Levels of one segment must
// hold near one frequency, else their difference is the front end's over frequency, too.
func (steps gainSteps) measured(r *survey.Reading, k *CalibrationFor) survey.Gain {
	if !k.labelMeasured(r) {
		return r.Gain
	}
	a := steps[r.Segment.Name]
	if !a.Comparable(*k.Level) {
		return r.Gain
	}
	return survey.Gain{DB: a.label + survey.DB(a.FullScale-k.Level.FullScale), Known: true, Exact: true}
}
