package capture

import (
	"nightfloor/dsp/comb"
	"nightfloor/survey"
)

// A heldPassband is what one tuning of a sweep, or one recording, gave, with its findings. Combs
// that are found elsewhere later can still be measured in it by force.
type heldPassband struct {
	passband
	readings []survey.Reading
	combs    []comb.Comb // that were measured in it
	visit    int         // of the recorder
}

// force measures by force the combs of the list that were not measured yet, and gives
// what came of it.
func (p *heldPassband) force(w *combWatch, round int) []survey.Finding {
	var fresh []survey.Finding
	for _, m := range p.measureForced(w.missing(p.combs, round, p.readings[0].Start)) {
		fresh, p.combs = append(fresh, m.finding), append(p.combs, m.comb)
	}
	return fresh
}
