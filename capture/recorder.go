package capture

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"time"

	"nightfloor/capture/force"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A Store is what the recorder asks of the database.
type Store interface {
	BeginSurvey(ctx context.Context, s survey.Survey) (id int64, err error)
	// AddSweep stores a sweep whole or not at all, and sets its ID and those of
	// its readings. Once it returns, the sweep survives a power cut. survey.ErrInvalid: it has
	// a figure that cannot be.
	AddSweep(ctx context.Context, s *survey.Sweep) error
	// AddCarriers adds carriers that were measured by force afterwards to readings that are
	// stored already, by the readings' IDs.
	AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error
	// AddFindings likewise adds combs that were measured by force.
	AddFindings(ctx context.Context, findings map[int64][]survey.Finding) error
	// AddVisit stores a visit, before its sweeps.
	AddVisit(ctx context.Context, v survey.Visit) error
	// AddGap stores a stretch without readings, and why.
	AddGap(ctx context.Context, gap survey.Gap) error
	// FlagFrom raises a flag on all readings of a survey from a visit on.
	FlagFrom(ctx context.Context, survey int64, visit int, flag string) error
	ResumeSurvey(ctx context.Context, id int64) error
	EndSurvey(ctx context.Context, id int64, at time.Time, ending string) error
}

// A Recorder carries out a plan: setups in shuffled rounds, a visit to each, a
// few sweeps a visit. It alone knows time and order.
type Recorder struct {
	Plan     plan.Plan
	Receiver Receiver
	Clock    Clock
	Changer  Changer
	Store    Store
	Version  string
	Until    time.Time   // end after the sweep in hand; zero: when the rounds are done
	Stop     func() bool // end after the sweep in hand
	Log      *slog.Logger
	// Visiting is told of each visit before its setup is put in place, and again once it is
	// known what is; a Reached that is zero: nobody knows. nil: nobody listens.
	Visiting func(v survey.Visit, known bool)
	// Stored is told of each sweep once it is safely stored.
	Stored func(s *survey.Sweep)
	// Alive is told that samples come, or that the recorder waits for what it
	// knows to be away.
	Alive func()
	// Reopen opens the receiver again after it went away; nil: a receiver that
	// fails ends the survey.
	Reopen func(ctx context.Context) (Receiver, error)
	// Passing tells failures of the store that may pass, such as a full disk,
	// from those that end the survey; nil: all end it.
	Passing func(err error) bool
	// Droop is what the receiver's filters take off as it was measured, as SweepOptions has it.
	Droop func(offset survey.Hz) float64
	// DroopCalibration is the calibration that measured it, which the survey keeps; 0: none did.
	DroopCalibration int64
	// Resume is how far an earlier run of the same plan came; nil: a new survey.
	Resume *survey.Progress
	// SelfNoise gives the receiver's own noise in a segment at a gain, where it is known; nil: it is not.
	SelfNoise func(segment survey.Segment, gain survey.DB) (density survey.DBFSPerHz, known bool)
	// Ending is how the survey ended, once Run is done: EndDone, or another word of the data.
	Ending string

	sweeper     *Sweeper
	journal     *journal
	carriers    force.Watch
	combs       combWatch
	steps       *stepDetector
	round       openRound
	visit       int           // the last that was begun
	begun       int           // the first visit of this run
	sought      int           // the last visit in which new combs were sought
	roundLength time.Duration // of the shortest whole round
	visitLength time.Duration // of the last whole visit
	last        readingEnd    // of the last reading
	storing     time.Duration // how long the store took for the last sweep
	behind      time.Time     // the last reading of an earlier run, which the clock stands behind; zero: it does not
	worked      bool          // a sweep was made in this run
	away        absence       // of the receiver
	wiring      wiringState
	overdriven  []string               // setups with segments whose overload no lower gain mends
	missing     map[survey.Setup]fault // setups that could not be put in place
}

// A readingEnd is when a reading ended.
type readingEnd struct {
	end   time.Time
	visit int // in which it was taken; 0: what comes after it has a gap of its own
}

// Endings of a survey. One that ended with EndDone is complete; any other can be
// resumed.
const (
	EndDone             = "all rounds done"
	endTime      ending = "the time was up"
	endPartial   ending = "the time that was left did not hold another whole round"
	endStopped   ending = "stopped by the operator"
	EndStopped          = string(endStopped)
	EndRecording        = "the recording that was played has ended"
	endAtOnce           = "stopped at once by the operator, in the middle of a sweep"
)

// An ending that the recorder itself decides on comes up as an error does.
type ending string

func (e ending) Error() string { return string(e) }

// Run carries out the plan and gives the survey's ID. What was stored stays
// stored, whatever the error.
func (r *Recorder) Run(ctx context.Context) (int64, error) {
	r.setDefaults()
	var err error
	options := SweepOptions{Seek: true, Alive: r.Alive, Droop: r.Droop, SelfNoise: r.SelfNoise, Raised: func(setup survey.Setup, segments string, from, to survey.DB) {
		r.Log.Info("little drive; gain raised", "setup", setup.String(), "segment", segments, "from", float64(from), "to", float64(to))
	}}
	if r.sweeper, err = NewSweeper(r.Receiver, r.Clock, r.Plan, options); err != nil {
		return 0, err
	}
	if checker, ok := r.Changer.(SetupChecker); ok {
		if err := checker.CheckSetups(r.Plan.Setups); err != nil {
			return 0, err
		}
	}
	r.journal = &journal{store: r.Store, passing: r.Passing, clock: r.Clock, log: r.Log, carriers: map[int64][]survey.Carrier{}, findings: map[int64][]survey.Finding{}}
	r.carriers, r.missing = force.New(r.Plan), map[survey.Setup]fault{}
	r.steps = newStepDetector(r.Clock)
	r.last = readingEnd{end: r.Clock.Now()}
	if err := r.beginOrResume(ctx); err != nil {
		return 0, err
	}
	how, err := EndDone, r.rounds(ctx)
	err = cmp.Or(r.closeGap(ctx, r.Clock.Now()), err)
	switch early, ok := err.(ending); {
	case ok:
		how, err = string(early), nil
	case errors.Is(err, context.Canceled):
		how = endAtOnce
	case errors.Is(err, io.EOF):
		how, err = EndRecording, nil
	case err != nil:
		how = "failed: " + err.Error()
	}
	r.Ending = how
	// The end is written even when the context is what ended the survey. Where it is not, what
	// was stored is there all the same, and the survey can be taken up.
	err = withNew(err, r.journal.end(context.WithoutCancel(ctx), how))
	r.Log.Info("survey ended", "survey", r.journal.survey, "how", how)
	return r.journal.survey, err
}

// setDefaults gives what may be left out.
func (r *Recorder) setDefaults() {
	if r.Alive == nil {
		r.Alive = func() {}
	}
	if r.Visiting == nil {
		r.Visiting = func(survey.Visit, bool) {}
	}
	if r.Passing == nil {
		r.Passing = func(error) bool { return false }
	}
}

// withNew joins errors, but for one with a cause that err has told of: one trouble makes the
// next.
func withNew(err, more error) error {
	for cause := more; cause != nil; cause = errors.Unwrap(cause) {
		if errors.Is(err, cause) {
			return err
		}
	}
	return errors.Join(err, more)
}

// beginOrResume begins the survey, or takes up the one to be resumed.
func (r *Recorder) beginOrResume(ctx context.Context) (err error) {
	if r.Resume != nil {
		return r.resume(ctx, *r.Resume)
	}
	info := r.Receiver.Info()
	r.begun = 1
	r.journal.survey, err = r.Store.BeginSurvey(ctx, survey.Survey{
		Kind: survey.KindRecord, Simulated: info.Simulated, Site: r.Plan.Site, Plan: r.Plan.Text,
		First: r.Plan.Setups[0], Receiver: Describe(info, r.Plan.FrontEnd), Seed: r.Plan.Seed, Version: r.Version, Start: r.Clock.Now(), DroopCalibration: r.DroopCalibration,
	})
	return err
}

// Describe names a receiver as surveys and calibrations do: what either holds is
// good for the other where the two texts are the same, word for word. So the
// text has all that changes levels and frequencies (dongle, front end, sample
// rate) and not the clock error, which becomes known only in time, nor what a filter takes off
// outside the segments, which changes no level in them.
func Describe(i Info, fe survey.FrontEnd) string {
	text, rate := i.Name, float64(i.SampleRate)
	if i.Tuner != "" {
		text += ", " + i.Tuner
	}
	if i.Library != "" { // a dongle: a recording and the simulated house have no front end
		switch fe.Way {
		case survey.WayUp:
			text += fmt.Sprintf(", %s of %v", fe.Way, fe.Offset)
		case survey.WayBuiltIn:
			text += ", " + fe.Way
		}
		rate /= 1 + fe.PPM*1e-6 // as its clock counts it
	}
	if i.Serial != "" {
		text += ", serial " + i.Serial
	}
	return fmt.Sprintf("%s, %.0f samples/s (%s)", text, rate, i.URI)
}

// ended gives the ending where no further sweep is to begin, else nil.
func (r *Recorder) ended() error {
	switch {
	case r.Stop != nil && r.Stop():
		return endStopped
	case !r.Until.IsZero() && !r.Clock.Now().Before(r.Until):
		return endTime
	}
	return nil
}
