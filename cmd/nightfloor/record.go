package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/capture/scene"
	"nightfloor/store"
	"nightfloor/survey"
)

type recordOptions struct {
	plan     string
	receiver string
	duration time.Duration
	until    string
	database string
}

func newRecordCommand(c *console) *cobra.Command {
	var o recordOptions
	cmd := &cobra.Command{
		Use:   "record --plan FILE",
		Short: "Carries out a survey plan and stores its sweeps",
		Long: `Carries out a survey plan: takes turns between the setups in shuffled rounds,
measures every segment and stores each sweep as it is done. An interrupt ends it
after the sweep in hand; a second one at once.

Receivers: scene:house?seed=N plays the simulated house. (Dongles come with the
next release.) There is no default that is simulated.` + "\n" + exitHelp,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runRecord(cmd.Context(), o, c)
		},
	}
	cmd.Flags().StringVar(&o.plan, "plan", "", "the survey plan, a TOML file")
	cmd.Flags().StringVar(&o.receiver, "receiver", "", "receiver, over what the plan says")
	cmd.Flags().DurationVar(&o.duration, "for", 0, "end after this long, as 90m or 8h")
	cmd.Flags().StringVar(&o.until, "until", "", "end at this local time, HH:MM")
	cmd.Flags().StringVar(&o.database, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
	return cmd
}

func runRecord(ctx context.Context, o recordOptions, c *console) error {
	if o.plan == "" {
		return usagef("record: no plan; name one with --plan FILE")
	}
	text, err := os.ReadFile(o.plan)
	if err != nil {
		return fmt.Errorf("read plan: %w; name a plan that can be read with --plan", err)
	}
	plan, err := survey.ParsePlan(text)
	if err != nil {
		return prefixLines("plan "+o.plan, err)
	}
	if o.receiver != "" {
		plan.Receiver = o.receiver
	}
	house, err := openReceiver(plan)
	if err != nil {
		return err
	}
	defer house.Close()
	path, err := databasePath(o.database)
	if err != nil {
		return err
	}
	until, err := o.end(house.Now())
	if err != nil {
		return err
	}
	sayBeginning(c, plan, until, path)
	stored, err := carryOut(ctx, c, path, &capture.Recorder{Plan: plan, Receiver: house, Clock: house, Changer: house, Until: until})
	if stored > 0 {
		c.note("%d sweeps stored; see them with: nightfloor report --db %s", stored, path)
	}
	return err
}

// sayBeginning says what is about to be done, and how it ends.
func sayBeginning(c *console, p survey.Plan, until time.Time, database string) {
	end := "until it is interrupted"
	switch {
	case p.Rounds > 0 && !until.IsZero():
		end = fmt.Sprintf("for %d rounds, or until %s", p.Rounds, until.Local().Format("15:04 MST"))
	case p.Rounds > 0:
		end = fmt.Sprintf("for %d rounds", p.Rounds)
	case !until.IsZero():
		end = "until " + until.Local().Format("15:04 MST")
	}
	c.note("recording %d setups on %d segments %s, into %s", len(p.Setups), len(p.Segments), end, database)
}

// end gives the time at which the survey is to end, zero for none.
func (o recordOptions) end(now time.Time) (time.Time, error) {
	var until time.Time
	if o.until != "" {
		hour, err := time.Parse("15:04", o.until)
		if err != nil {
			return until, usagef("--until %q: not a local time; write it as 06:30", o.until)
		}
		local := now.Local()
		until = time.Date(local.Year(), local.Month(), local.Day(), hour.Hour(), hour.Minute(), 0, 0, time.Local)
		if !until.After(now) {
			until = time.Date(local.Year(), local.Month(), local.Day()+1, hour.Hour(), hour.Minute(), 0, 0, time.Local)
		}
	}
	if o.duration < 0 {
		return until, usagef("--for %v: must be longer than nothing", o.duration)
	}
	if o.duration > 0 {
		if by := now.Add(o.duration); until.IsZero() || by.Before(until) {
			until = by
		}
	}
	return until, nil
}

// openReceiver opens what the plan's receiver URI names.
func openReceiver(plan survey.Plan) (*scene.House, error) {
	kind, _, _ := strings.Cut(plan.Receiver, ":")
	switch kind {
	case "scene":
		return scene.Open(plan.Receiver, scene.Options{Rate: plan.SampleRate, Locator: plan.Site.Locator})
	case "":
		return nil, errors.New("open receiver: none found; this release knows no dongle yet: measure recordings with measure and import, or name the simulated house with --receiver scene:house")
	default:
		return nil, fmt.Errorf("open receiver %s: this release cannot open %q; name the simulated house with --receiver scene:house, or measure recordings with measure and import", plan.Receiver, kind+":")
	}
}

// carryOut runs the recorder against the database until its end, or until an
// interrupt: the first ends it after the sweep in hand, the second at once. It
// gives how many sweeps were stored.
func carryOut(ctx context.Context, c *console, database string, r *capture.Recorder) (stored int, err error) {
	db, err := store.Open(ctx, database)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	lock, err := db.LockWriter(ctx, time.Now())
	if err != nil {
		return 0, err
	}
	defer lock.Release()
	hard, soft, done := twoInterrupts(ctx)
	defer done()
	r.Store, r.Version, r.Stop = db, version(), soft
	if r.Log == nil {
		r.Log = c.log()
	}
	total := r.Plan.Rounds * len(r.Plan.Setups) * r.Plan.Sweeps
	bar := newProgress(c, "recording", total)
	r.Stored = func(s *survey.Sweep) {
		stored++
		bar.at(stored)
		if c.verbose {
			fmt.Fprintf(c.err, "stored sweep %d round %d %s %s\n", s.ID, s.Round, s.Setup, s.Start.UTC().Format(time.RFC3339))
		}
	}
	_, err = r.Run(hard)
	bar.end()
	return stored, err
}

// twoInterrupts turns one context into two ends: soft tells that ctx is done;
// hard ends at the next interrupt after that.
func twoInterrupts(ctx context.Context) (hard context.Context, soft func() bool, done func()) {
	var asked atomic.Bool
	hard, cancel := context.WithCancel(context.WithoutCancel(ctx))
	finished := make(chan struct{})
	go func() {
		select {
		case <-ctx.Done():
			asked.Store(true)
		case <-finished:
			return
		}
		select {
		case <-nextInterrupt():
			cancel()
		case <-finished:
		}
	}()
	return hard, asked.Load, func() { close(finished); cancel() }
}

// prefixLines puts a prefix before every line of an error of several lines.
func prefixLines(prefix string, err error) error {
	return fmt.Errorf("%s: %s", prefix, strings.ReplaceAll(err.Error(), "\n", "\n"+prefix+": "))
}
