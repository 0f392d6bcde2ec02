package capture

import (
	"context"
	"fmt"
	"time"

	"nightfloor/survey"
)

// resume goes on with a survey that was begun earlier: its number, its rounds and
// their order, the carriers on its watch list, and the gap since.
func (r *Recorder) resume(ctx context.Context, p survey.Progress) error {
	if err := r.Store.ResumeSurvey(ctx, p.Survey.ID); err != nil {
		return fmt.Errorf("resume survey %d: %w", p.Survey.ID, err)
	}
	r.journal.survey, r.visit, r.begun = p.Survey.ID, p.Visit, p.Visit+1
	for _, s := range p.Recent {
		for i := range s.Readings {
			r.watch.note(&s.Readings[i], s.Round)
		}
		r.combs.note(combsOf(s.Readings, survey.Finding.Detected), s.Round, s.Start)
		if s.Round == p.Round && len(s.Readings) > 0 {
			r.round.taken = append(r.round.taken, &heldPassband{readings: s.Readings})
		}
	}
	why := p.Survey.Ending
	if why == "" {
		why = "not recording: killed, or the power was cut"
	}
	r.Log.Info("survey resumed", "survey", r.journal.survey, "round", p.Round, "ended before", why)
	if p.Last.IsZero() {
		return nil
	}
	if now := r.Clock.Now(); now.Before(p.Last) {
		r.Log.Warn("the clock stands earlier than the survey's last reading: times of this run are in doubt until it is set", "clock", now.UTC().Format(time.RFC3339), "last reading", p.Last.UTC().Format(time.RFC3339))
		return nil
	}
	return r.journal.gap(ctx, p.Last, r.Clock.Now(), why)
}
