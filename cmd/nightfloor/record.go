package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/capture/instrument"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/live"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/input"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

type recordOptions struct {
	plan     string
	receiver string
	duration time.Duration
	until    string
	database string
	fresh    bool
	try      bool
}

func newRecordCommand(c *console.Console) *cobra.Command {
	var o recordOptions
	cmd := &cobra.Command{
		Use:   "record --plan FILE",
		Short: "Carries out a survey plan and stores its sweeps",
		Long: `Carries out a survey plan: takes turns between the setups in shuffled rounds,
measures every segment and stores each sweep as it is done. An interrupt ends it
after the sweep in hand, and so do a closed terminal and a closed log; a second
interrupt ends it at once. Started again with the same plan and database it goes on
where it was; --new begins a new survey.

--try begins none: each setup of the plan is put in place once, in the plan's order, driven and
heard, and a table says what worked, what did not and what to do. Nothing is stored. The
exit status is 0 where all setups were heard.

A dongle that is pulled out is waited for; a full disk too. The gap is marked. At a terminal
one line says how far it is, in a log one line an hour.

Receivers: rtlsdr: is the first dongle, rtlsdr:serial=00000001 one of several (see
nightfloor receivers); file:PATH plays a recording; scene:house?seed=N plays the
simulated house. There is no default that is simulated.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if cmd.Flags().Changed("for") && o.duration <= 0 {
				return console.Usagef("--for %v: must be above 0; give a length of time, as 90m or 8h, or leave it out", o.duration)
			}
			return runRecord(cmd.Context(), o, c)
		},
	}
	cmd.Flags().StringVar(&o.plan, "plan", "", "the survey plan, a TOML file")
	cmd.Flags().StringVar(&o.receiver, "receiver", "", "receiver, over what the plan says")
	console.LengthVar(cmd.Flags(), &o.duration, "for", "end after this `duration`, as 90m or 8h")
	cmd.Flags().StringVar(&o.until, "until", "", "end at this `time`: 06:30 is the next local one, or RFC 3339, or local as \"2026-11-04 06:30\"")
	cmd.Flags().BoolVar(&o.fresh, "new", false, "begin a new survey, whatever the database holds of this plan")
	cmd.Flags().BoolVar(&o.try, "try", false, "try every setup once, store nothing, and say whether the survey can begin")
	console.DatabaseVar(cmd.Flags(), &o.database)
	return cmd
}

// collectorPercent is the garbage collector's percentage (GOGC) while recording. A round holds
// mostly numbers, which it need not look through: it costs little to run it often, and memory
// does not double in between.
const collectorPercent = 25

func runRecord(ctx context.Context, o recordOptions, c *console.Console) error {
	if os.Getenv("GOGC") == "" {
		defer debug.SetGCPercent(debug.SetGCPercent(collectorPercent))
	}
	defer console.KeepOnBrokenPipe()()
	if o.plan == "" {
		return console.Usagef("record: no plan; name one with --plan FILE")
	}
	p, err := open.Plan(o.plan)
	if err != nil {
		return err
	}
	p.Receiver = cmp.Or(o.receiver, p.Receiver)
	if o.try {
		return o.tryPlan(ctx, p, c)
	}
	if o.until == "" && o.duration == 0 {
		o.until = p.Until
	}
	var until time.Time
	in, db, path, release, err := open.Both(ctx, c, p, o.database, func(in instrument.Instrument) (err error) {
		if until, err = o.end(in.Clock.Now()); err != nil {
			return err
		}
		if err := instrument.Check(p, in.Receiver.Info(), nil); err != nil {
			return console.PrefixLines("plan "+o.plan, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	defer release()
	if waits, ok := in.Changer.(interface{ Ready(context.Context) error }); ok {
		if err := waits.Ready(ctx); err != nil {
			return errors.Join(fmt.Errorf("record: %w", err), in.Receiver.Close())
		}
	}
	r := &capture.Recorder{Plan: p, Receiver: in.Receiver, Clock: in.Clock, Changer: in.Changer, Reopen: in.Reopen, Until: until}
	defer func() { // of the one that is open by then
		if !c.StoppedAtOnce() { // closing takes its time where the driver hangs
			r.Receiver.Close()
		}
	}()
	announce(c, p, in.Clock.Now(), r.Until, path)
	cautionMoving(c, p)
	stored, err := carryOut(ctx, c, db, r, !o.fresh)
	if err == nil {
		sayGoesOn(ctx, c, db, r, o.fresh)
	}
	switch {
	case stored == 0 && err == nil:
		return nothingStored(c, r)
	case stored > 0 && !errors.Is(err, store.ErrLost): // that says where they are
		c.Note("%s stored; for the report: nightfloor report --db %s", survey.Count(stored, "sweep"), console.Quoted(path))
	}
	return err
}

// sayGoesOn says where a survey that the operator stopped would go on. What is not a dongle's, a
// recording or a simulated night, begins anew.
func sayGoesOn(ctx context.Context, c *console.Console, db *store.Store, r *capture.Recorder, fresh bool) {
	if r.Ending != capture.EndStopped || r.Reopen == nil {
		return
	}
	p, _, err := r.Unfinished(context.WithoutCancel(ctx), db)
	if err != nil || p == nil { // what is wrong is told when it is to go on
		return
	}
	how := "the same command"
	if fresh {
		how += " without --new"
	}
	c.Note("%s; %s goes on where it was", capture.NextRound(*p, r.Plan), how)
}

// nothingStored says why a survey that ended without an error stored no sweep. It has failed, unless the
// operator stopped it, or an earlier run had stored them all.
func nothingStored(c *console.Console, r *capture.Recorder) error {
	switch {
	case r.Ending == capture.EndStopped:
		c.Note("0 sweeps stored: stopped by the operator before the first sweep was whole")
		return nil
	case r.Ending == capture.EndDone && r.Resume != nil:
		return nil
	case r.Ending == capture.EndRecording:
		return fmt.Errorf("record: 0 sweeps stored: %s before a sweep was whole; take a longer one, or shorten the dwell in the plan", r.Ending)
	}
	return fmt.Errorf("record: 0 sweeps stored: %s; give it longer, and see to what is said above", r.Ending)
}

// announce says what is about to be done, and how it ends.
func announce(c *console.Console, p plan.Plan, now, until time.Time, database string) {
	at := fmt.Sprintf("until %s, in %s", until.Local().Format("Mon 2 Jan 15:04 MST"), plan.DurationText(until.Sub(now)))
	end := "until it is interrupted"
	switch {
	case p.Rounds > 0 && !until.IsZero():
		end = fmt.Sprintf("for %s, or %s", survey.Count(p.Rounds, "round"), at)
	case p.Rounds > 0:
		end = fmt.Sprintf("for %s", survey.Count(p.Rounds, "round"))
	case !until.IsZero():
		end = at
	}
	c.Note("recording %s on %s %s; into %s", survey.Count(len(p.Setups), "setup"), survey.Count(len(p.Segments), "segment"), end, database)
}

// end gives the time at which the survey is to end, zero for none.
func (o recordOptions) end(now time.Time) (until time.Time, err error) {
	if o.until != "" {
		if until, err = console.Until(o.until, now); err != nil {
			return until, err
		}
	}
	if o.duration > 0 {
		if by := now.Add(o.duration); until.IsZero() || by.Before(until) {
			until = by
		}
	}
	return until, nil
}

// carryOut runs the recorder against the database until its end, or until the context
// ends: then after the sweep in hand, and at once at a second interrupt. It
// gives how many sweeps were stored. An unfinished survey of the same plan is
// taken up where resume says so.
func carryOut(ctx context.Context, c *console.Console, db *store.Store, r *capture.Recorder, resume bool) (stored int, err error) {
	if resume {
		said := ""
		if r.Resume, said, err = r.Unfinished(ctx, db); err != nil {
			return 0, err
		}
		if said != "" {
			c.Note("%s", said)
		}
	}
	if err := correctPassband(ctx, c, db, r); err != nil {
		return 0, err
	}
	hard, done := c.Hurry(ctx)
	defer done()
	r.Store, r.Version, r.Stop = db, version(), func() bool { return ctx.Err() != nil }
	r.Passing = func(err error) bool {
		return errors.Is(err, store.ErrFull) || errors.Is(err, store.ErrDisk) || errors.Is(err, store.ErrBusy)
	}
	watched := newSupervisor()
	defer watched.stopping()
	db.Working = watched.alive
	r.Log = cmp.Or(r.Log, c.Log(true))
	calibrations, err := db.Calibrations(ctx)
	if err != nil {
		r.Log.Warn("calibrations cannot be read; gains follow the drive alone", "why", err)
	}
	info := r.Receiver.Info()
	r.SelfNoise = input.SelfNoise(calibrations, capture.Describe(info, r.Plan.FrontEnd), info.SampleRate)
	db.Saving = func(happened string) {
		r.Log.Error("fault: store; what can be saved is being saved, which may take minutes: do not stop it", "why", happened)
	}
	line := live.New(c, r)
	defer line.End()
	r.Alive = func() { watched.alive(); line.Alive() }
	r.Visiting = line.Visiting
	r.Stored = func(s *survey.Sweep) {
		stored++
		line.Stored(s)
		watched.status("%s", line.Text())
		if c.Verbose {
			fmt.Fprintf(c, "stored sweep %d round %d %s %s\n", s.ID, s.Round, s.Setup, s.Start.UTC().Format(time.RFC3339))
		}
	}
	_, err = r.Run(hard)
	if hard.Err() != nil {
		err = atOnce(err)
	}
	return stored, err
}

// correctPassband has what the receiver's filters take off taken out as a calibration measured that: the
// newest of the receiver, or where a survey goes on the one that it began with.
func correctPassband(ctx context.Context, c *console.Console, db *store.Store, r *capture.Recorder) (err error) {
	var goesOn *survey.Survey
	if r.Resume != nil {
		goesOn = &r.Resume.Survey
	}
	said := ""
	r.Droop, r.DroopCalibration, said, err = open.Droop(ctx, db, capture.Describe(r.Receiver.Info(), r.Plan.FrontEnd), goesOn)
	if said != "" {
		c.Note("%s", said)
	}
	return err
}

// atOnce says in plain words what a second interrupt broke off; other errors stay.
func atOnce(err error) error {
	if !errors.Is(err, context.Canceled) {
		return err
	}
	all := []error{console.ErrStoppedAtOnce}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range joined.Unwrap() {
			if !errors.Is(e, context.Canceled) {
				all = append(all, e)
			}
		}
	}
	return errors.Join(all...)
}
