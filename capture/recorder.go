package capture

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"time"

	"nightfloor/survey"
)

// A Store is what the recorder asks of the database.
type Store interface {
	BeginSurvey(ctx context.Context, s survey.Survey) (id int64, err error)
	// AddSweep stores a sweep whole or not at all, and sets its ID and those of
	// its readings. Once it returns, the sweep survives a power cut.
	AddSweep(ctx context.Context, s *survey.Sweep) error
	// AddCarriers stores what was measured by force afterwards, by reading ID.
	AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error
	EndSurvey(ctx context.Context, id int64, at time.Time, ending string) error
}

// A Recorder carries out a plan: setups in shuffled rounds, a visit to each, a
// few sweeps a visit. It alone knows time and order.
type Recorder struct {
	Plan     survey.Plan
	Receiver Receiver
	Clock    Clock
	Changer  Changer
	Store    Store
	Version  string
	Until    time.Time   // end after the sweep in hand; zero: when the rounds are done
	Stop     func() bool // end after the sweep in hand
	Log      *slog.Logger
	// Stored is told of each sweep once it is safely stored.
	Stored func(s *survey.Sweep)

	sweeper *Sweeper
	watch   *watchList
	survey  int64
	round   int
	visit   int
	taken   []*survey.Reading // of this round, with their spectra
}

// Endings of a survey.
const (
	endDone    = "all rounds done"
	endTime    = "the time was up"
	endStopped = "stopped by the operator"
	endAtOnce  = "stopped at once by the operator, in the middle of a sweep"
)

// Run carries out the plan and gives the survey's ID. What was stored stays
// stored, whatever the error.
func (r *Recorder) Run(ctx context.Context) (int64, error) {
	var err error
	if r.sweeper, err = NewSweeper(r.Receiver, r.Clock, r.Plan.Segments, r.Plan.Dwell); err != nil {
		return 0, err
	}
	if checker, ok := r.Changer.(SetupChecker); ok {
		if err := checker.CheckSetups(r.Plan.Setups); err != nil {
			return 0, err
		}
	}
	info := r.Receiver.Info()
	r.watch = newWatchList()
	r.survey, err = r.Store.BeginSurvey(ctx, survey.Survey{
		Kind: survey.KindRecord, Simulated: info.Simulated, Site: r.Plan.Site, Plan: r.Plan.Text,
		First: r.Plan.Setups[0], Receiver: describe(info), Seed: r.Plan.Seed, Version: r.Version, Start: r.Clock.Now(),
	})
	if err != nil {
		return 0, err
	}
	ending, err := r.rounds(ctx)
	switch {
	case errors.Is(err, context.Canceled):
		ending = endAtOnce
	case err != nil:
		ending = "failed: " + err.Error()
	}
	// The end is written even when the context is what ended the survey.
	endErr := r.Store.EndSurvey(context.WithoutCancel(ctx), r.survey, r.Clock.Now(), ending)
	r.Log.Info("survey ended", "survey", r.survey, "how", ending)
	return r.survey, errors.Join(err, endErr)
}

func describe(i Info) string {
	text := i.Name
	if i.Tuner != "" {
		text += ", " + i.Tuner
	}
	if i.Serial != "" {
		text += ", serial " + i.Serial
	}
	return fmt.Sprintf("%s, %.0f samples/s (%s)", text, float64(i.SampleRate), i.URI)
}

// ended tells whether, and why, no further sweep is to begin.
func (r *Recorder) ended() (how string, yes bool) {
	switch {
	case r.Stop != nil && r.Stop():
		return endStopped, true
	case !r.Until.IsZero() && !r.Clock.Now().Before(r.Until):
		return endTime, true
	}
	return "", false
}

func (r *Recorder) rounds(ctx context.Context) (ending string, err error) {
	rng := rand.New(rand.NewPCG(r.Plan.Seed, 0x6e69676874)) // the second word only sets the stream
	last := -1
	for r.Plan.Rounds == 0 || r.round < r.Plan.Rounds {
		if how, yes := r.ended(); yes {
			return how, nil
		}
		r.round++
		order := survey.Order(rng, len(r.Plan.Setups), last)
		last = order[len(order)-1]
		for _, at := range order {
			if how, yes := r.ended(); yes {
				return how, r.closeRound(ctx)
			}
			cut, err := r.visitTo(ctx, r.Plan.Setups[at])
			if err != nil {
				return "", errors.Join(err, r.closeRound(ctx))
			}
			if cut != "" {
				return cut, r.closeRound(ctx)
			}
		}
		if err := r.closeRound(ctx); err != nil {
			return "", err
		}
	}
	return endDone, nil
}

// visitTo puts a setup in place and makes the visit's sweeps through it. cut
// tells why not all of them were made, "" where they were.
func (r *Recorder) visitTo(ctx context.Context, asked survey.Setup) (cut string, err error) {
	begun := r.Clock.Now()
	setup, err := r.Changer.Change(ctx, asked)
	if err != nil {
		return "", fmt.Errorf("change to %v: %w", asked, err)
	}
	if err := r.sweeper.Prepare(ctx, setup); err != nil {
		return "", err
	}
	r.visit++
	made := 0
	overloaded := map[string]bool{}
	stop := func() bool { _, yes := r.ended(); return yes }
	err = r.sweeper.Visit(ctx, setup, r.Plan.Sweeps, stop, func(start time.Time, readings []survey.Reading) error {
		made++
		for _, reading := range readings {
			if reading.Quality.Has(survey.FlagOverload) {
				overloaded[reading.Segment.Name] = true
			}
		}
		return r.store(ctx, setup, start, readings)
	})
	if err != nil {
		return "", err
	}
	for segment := range overloaded {
		r.sweeper.Ease(setup, segment)
		r.Log.Warn("overload; gain lowered", "setup", setup.String(), "segment", segment)
	}
	if made < r.Plan.Sweeps {
		cut, _ = r.ended()
		return cut, nil
	}
	return "", r.wait(ctx, begun.Add(r.Plan.Every))
}

// patience is how long an operator who stops the survey waits at most for it to
// notice while it waits for the next visit.
const patience = time.Second

// wait lets time pass until the next visit is due or the survey is to end.
func (r *Recorder) wait(ctx context.Context, due time.Time) error {
	for {
		left := due.Sub(r.Clock.Now())
		if _, yes := r.ended(); yes || left <= 0 {
			return nil
		}
		if err := r.Clock.Sleep(ctx, min(left, patience)); err != nil {
			return fmt.Errorf("wait for the next visit: %w", err)
		}
	}
}

// store measures by force what is on the watch list, and stores the sweep.
func (r *Recorder) store(ctx context.Context, setup survey.Setup, start time.Time, readings []survey.Reading) error {
	sweep := &survey.Sweep{Survey: r.survey, Round: r.round, Visit: r.visit, Setup: setup, Start: start}
	for i := range readings {
		r.watch.note(&readings[i], r.round)
		Force(&readings[i], r.watch.missing(&readings[i]))
		kept := readings[i]
		kept.Spectrum = Coarsen(readings[i].Spectrum, storedBins)
		sweep.Readings = append(sweep.Readings, kept)
	}
	if err := r.Store.AddSweep(ctx, sweep); err != nil {
		return err
	}
	for i := range readings {
		readings[i].ID = sweep.Readings[i].ID
		r.taken = append(r.taken, &readings[i])
	}
	if r.Stored != nil {
		r.Stored(sweep)
	}
	return nil
}

// closeRound measures carriers that were first heard late in the round through
// the setups that had their turn before. What was stored of a round is made
// complete even when the context is what ended it.
func (r *Recorder) closeRound(ctx context.Context) error {
	late := map[int64][]survey.Carrier{}
	for _, reading := range r.taken {
		had := len(reading.Carriers)
		Force(reading, r.watch.missing(reading))
		if fresh := reading.Carriers[had:]; len(fresh) > 0 {
			late[reading.ID] = fresh
		}
	}
	r.taken = nil
	r.watch.forget(r.round)
	if len(late) == 0 {
		return nil
	}
	return r.Store.AddCarriers(context.WithoutCancel(ctx), late)
}
