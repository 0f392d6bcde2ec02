package capture

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"nightfloor/capture/force"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// resume goes on with a survey that was begun earlier: its number, its rounds and
// their order, the carriers on its watch list, and the gap since.
func (r *Recorder) resume(ctx context.Context, p survey.Progress) error {
	if err := r.Store.ResumeSurvey(ctx, p.Survey.ID); err != nil {
		return err // the store says what it was about
	}
	r.journal.survey, r.visit, r.begun = p.Survey.ID, p.Visit, p.Visit+1
	_, changing := r.Plan.Changing()
	r.wiring = wiringState{second: changing && p.Wiring == r.Plan.Halves[1], inPlace: p.Wiring}
	for _, s := range p.Recent {
		for i := range s.Readings {
			r.carriers.Note(&s.Readings[i], s.Round)
		}
		r.combs.note(combsOf(s.Readings, survey.Finding.Detected), s.Round, s.Start)
		if s.Round == p.Round && len(s.Readings) > 0 {
			r.round.taken = append(r.round.taken, &heldPassband{readings: s.Readings})
		}
	}
	why := cmp.Or(p.Survey.Ending, "not recording: killed, or the power was cut")
	r.Log.Info("survey resumed", "survey", r.journal.survey, "round", p.Round, "ended before", why)
	switch now := r.Clock.Now(); {
	case p.Last.IsZero():
		return nil
	case now.Before(p.Last):
		r.behind = p.Last
		r.Log.Warn("the clock stands earlier than the survey's last reading: the readings of this run are marked until it is set", "clock", now.UTC().Format(time.RFC3339), "last reading", p.Last.UTC().Format(time.RFC3339))
		return nil
	}
	return r.journal.gap(ctx, p.Last, r.Clock.Now(), why)
}

// A SurveyLister is what Unfinished asks of the database.
type SurveyLister interface {
	Surveys(ctx context.Context) ([]survey.Survey, error)
	// Progress tells how far a survey came, with the sweeps of so many rounds.
	Progress(ctx context.Context, s survey.Survey, rounds int) (survey.Progress, error)
}

// Unfinished finds how far the last survey of the recorder's plan came, to be resumed; nil
// where there is none, or it is complete, or it lies ahead of the clock (a simulated night
// that is played again). said tells the operator which it is, "" where there is nothing to
// tell. The error: it was begun with another receiver.
func (r *Recorder) Unfinished(ctx context.Context, db SurveyLister) (p *survey.Progress, said string, err error) {
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return nil, "", err
	}
	for _, s := range slices.Backward(surveys) {
		if s.Kind != survey.KindRecord || s.Plan != r.Plan.Text || s.Simulated != r.Receiver.Info().Simulated {
			continue
		}
		if s.Ending == EndDone {
			return nil, fmt.Sprintf("survey %d of this plan is complete; beginning another", s.ID), nil
		}
		done, err := db.Progress(ctx, s, force.Rounds+2)
		if err != nil {
			return nil, "", err
		}
		// A simulated night has its fixed time and can be played again; a real clock that
		// is earlier than the last reading was only not set yet.
		if s.Simulated && done.Last.After(r.Clock.Now()) {
			return nil, fmt.Sprintf("survey %d of this plan is simulated, and its night begins anew; beginning another", s.ID), nil
		}
		if is := Describe(r.Receiver.Info(), r.Plan.FrontEnd); s.Receiver != is && s.Simulated {
			return nil, fmt.Sprintf("survey %d of this plan was begun with another simulated house; beginning another", s.ID), nil
		} else if s.Receiver != is {
			return nil, "", fmt.Errorf("go on with survey %d: it was begun with %s, and %s is there now; name the one that it was begun with by --receiver, or begin another survey with --new", s.ID, survey.ReceiverText(s.Receiver), survey.ReceiverText(is))
		}
		return &done, fmt.Sprintf("goes on with survey %d at %s", s.ID, NextRound(done, r.Plan)), nil
	}
	return nil, "", nil
}

// NextRound names the round that an interrupted survey goes on in.
func NextRound(done survey.Progress, p plan.Plan) string {
	made, round := 0, max(1, done.Round)
	for _, n := range done.Made {
		made += n
	}
	if made > 0 && made >= len(p.Setups)*p.Sweeps*p.VisitsPerRound() { // it is whole
		round++
	}
	if p.Rounds > 0 {
		round = min(round, p.Rounds)
	}
	return survey.RoundOf(round, p.Rounds)
}
