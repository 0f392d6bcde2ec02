package capture

import (
	"context"
	"slices"

	"nightfloor/survey"
)

// An openRound is the round that is being made. What was taken in it is held until its
// end, so that what is first heard late in it can be measured by force through the setups
// that had their turn before.
type openRound struct {
	number    int             // counts from 1 within the survey
	stored    bool            // a sweep of it was stored
	disturbed bool            // visits of it were missed
	taken     []*heldPassband // with their spectra
	views     []*heldPassband // those of them in which combs can be measured
}

// begin opens the next round; resumed: an earlier run stored some of its sweeps, and their
// readings are among those taken.
func (o *openRound) begin(resumed bool) {
	o.number++
	o.stored, o.disturbed = resumed, false
}

// mostViews bounds the memory that the round's views take: some 90 kB each at 2.4 MS/s.
const mostViews = 100

// keep holds the passbands of a sweep that was stored until the round ends; stored are its
// readings. Views are held of the last sweep of each visit: combs are measured afterwards
// in those, the latest first.
func (o *openRound) keep(visit int, taken []*heldPassband, stored []survey.Reading) {
	o.stored = true
	o.views = slices.DeleteFunc(o.views, func(p *heldPassband) bool {
		if p.visit == visit {
			p.view = nil
		}
		return p.view == nil
	})
	for _, p := range taken {
		for i := range p.readings {
			p.readings[i].ID, stored = stored[0].ID, stored[1:]
		}
		p.visit = visit
		o.taken, o.views = append(o.taken, p), append(o.views, p)
		if len(o.views) > mostViews {
			o.views[0].view, o.views = nil, o.views[1:]
		}
	}
}

// measureLate measures by force, in all that was taken, the carriers and combs of the
// lists that were not measured there yet, and lets go of it.
func (o *openRound) measureLate(watch *watchList, combs *combWatch, to *journal) {
	for _, p := range o.taken {
		late := p.force(combs, o.number)
		for i := range p.readings {
			reading := &p.readings[i]
			had := len(reading.Carriers)
			MeasureForced(reading, watch.missing(reading))
			to.addLate(reading.ID, reading.Carriers[had:], late)
		}
	}
	o.taken, o.views = nil, nil
}

// closeRound stores what was first heard late in the round through all its setups. What
// was stored of a round is made complete even when the context is what ended it.
func (r *Recorder) closeRound(ctx context.Context) error {
	r.round.measureLate(r.watch, &r.combs, r.journal)
	r.watch.forget(r.round.number)
	r.combs.forget(r.round.number)
	return r.journal.storeLate(context.WithoutCancel(ctx))
}
