package main

import (
	"bytes"
	"cmp"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/capture/scene"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/cmd/nightfloor/output"
	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/simulated"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/store/files"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

//go:embed demo-plan.toml
var demoPlan []byte

// demoStart is an hour before sunset in the scene, so that there is dusk and night.
var demoStart = time.Date(2026, time.November, 3, 15, 0, 0, 0, time.UTC)

type demoOptions struct {
	folder string
	seed   uint64
	force  bool
	rounds int // 0: as the plan says
}

func newDemoCommand(c *console.Console) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Runs a whole simulated night and prints the ranking",
		Long: `Runs a whole night in a simulated house through the real pipeline: 8-bit I/Q in,
database and HTML page out, and prints the ranking. It needs no hardware, no
configuration and no network. Everything it writes is marked simulated.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runDemo(cmd.Context(), o, c)
		},
	}
	cmd.Flags().StringVar(&o.folder, "out", "nightfloor-demo", "folder for the database and the page")
	console.ForceVar(cmd.Flags(), &o.force)
	cmd.Flags().Uint64Var(&o.seed, "seed", 1, "seed of the simulated night")
	return cmd
}

func runDemo(ctx context.Context, o demoOptions, c *console.Console) error {
	p, err := plan.Parse(demoPlan)
	if err != nil {
		return err
	}
	p.Seed = o.seed
	p.Rounds = cmp.Or(o.rounds, p.Rounds)
	if o.folder == output.Dash {
		return console.Usagef("demo --out -: - is no file name here; name a folder")
	}
	if err := os.MkdirAll(o.folder, 0o755); err != nil {
		return fmt.Errorf("demo: make folder %s: %w; name another with --out", o.folder, survey.FileTrouble(err))
	}
	database := filepath.Join(o.folder, "nightfloor.db")
	page := pageFile(filepath.Join(o.folder, "report.html"), database, o.force)
	if err := page.Check(); err != nil {
		return err
	}
	if err := clearDemo(ctx, database); err != nil {
		return err
	}
	house, err := openDemoHouse(p, o.seed)
	if err != nil {
		return err
	}
	defer house.Close()
	said := *c // what happens in the night is told only when asked for
	said.Quiet = !c.Verbose
	written, _, release, err := open.ToWrite(ctx, database, store.Open)
	if err != nil {
		return err
	}
	_, err = carryOut(ctx, c, written, &capture.Recorder{Plan: p, Receiver: house, Clock: house, Changer: house, Log: said.Log(false)}, false)
	release()
	if err != nil {
		return err
	}
	if ctx.Err() != nil {
		return fmt.Errorf("demo: interrupted; run it again for a whole night, or see what there is with nightfloor report --db %s", console.Quoted(database))
	}
	return showDemo(ctx, page, c, house, database)
}

// showDemo makes the report, writes the page, and prints the ranking beside what was built
// into the house.
func showDemo(ctx context.Context, page output.File, c *console.Console, house *scene.House, database string) error {
	db, err := store.OpenReadOnly(ctx, database)
	if err != nil {
		return err
	}
	defer db.Close()
	report, _, err := loadReport(ctx, db, input.Options{}, reports.All, true)
	if err != nil {
		return err
	}
	if err := writePage(page, report); err != nil {
		return err
	}
	if err := text.WriteSummary(c.Out, *report, time.Local, c.Width()); err != nil {
		return err
	}
	if err := showBuilt(c, houseTruth{house.Truth()}, report); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.Out, "\nreport:   %s\ndatabase: %s\n", wording.Printable(page.Path), wording.Printable(database))
	return err
}

// showBuilt prints what was built into the house beside what was found.
func showBuilt(c *console.Console, truth houseTruth, report *result.Report) error {
	ranks, err := simulated.CompareRank(truth, report)
	if err != nil {
		return err
	}
	nulls, err := simulated.CompareNulls(truth, report)
	if err != nil {
		return err
	}
	supplies, others := simulated.CompareSupplies(truth, report)
	return errors.Join(text.WriteBuiltRank(c.Out, ranks, c.Width()), text.WriteBuiltSupplies(c.Out, supplies, others, c.Width()),
		text.WriteBuiltNulls(c.Out, nulls, c.Width()))
}

// openDemoHouse opens the simulated house as the demo's plan has it.
func openDemoHouse(p plan.Plan, seed uint64) (*scene.House, error) {
	return scene.Open(fmt.Sprintf("scene:house?seed=%d", seed), scene.Options{Rate: p.SampleRate, Locator: p.Site.Locator, Start: demoStart})
}

// houseTruth gives the truth of the simulated house in the types of the comparison.
type houseTruth struct{ scene.Truth }

// Supplies lists the house's switching supplies.
func (t houseTruth) Supplies(from, to time.Time) []simulated.Supply {
	var out []simulated.Supply
	for _, s := range t.Truth.Supplies(from, to) {
		supply := simulated.Supply{Name: s.Name, Spacing: s.Spacing}
		for _, h := range s.Hours {
			supply.Hours = append(supply.Hours, result.NoiseHours{From: h.From, To: h.To})
		}
		out = append(out, supply)
	}
	return out
}

// clearDemo takes an earlier demo's database away. One that holds anything else is somebody's
// work, and is refused, as one that is being written.
func clearDemo(ctx context.Context, path string) error {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		for _, log := range []string{path + "-wal", path + "-journal"} {
			if _, err := os.Lstat(log); err == nil {
				return fmt.Errorf("demo: %s is there without its database, and the demo would destroy it; name another folder with --out", log)
			}
		}
		return nil
	}
	if err == nil && !info.Mode().IsRegular() {
		return fmt.Errorf("demo: %s is %s, not a database; name another folder with --out", path, survey.FileKind(info.Mode()))
	}
	why, err := notOnlyDemo(ctx, path)
	if err != nil {
		return err
	}
	if why != "" {
		return fmt.Errorf("demo: %s holds %s, and the demo would replace it; name another folder with --out", path, why)
	}
	_, _, release, err := open.ToWrite(ctx, path, store.Open) // nobody is writing it
	if err != nil {
		return err
	}
	release()
	for _, file := range files.Names(path) {
		if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("demo: %w; name another folder with --out", err)
		}
	}
	return nil
}

// notOnlyDemo says what a database holds beside the surveys of demos; "" where there is nothing.
func notOnlyDemo(ctx context.Context, path string) (string, error) {
	db, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return "", err
	}
	defer db.Close()
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return "", err
	}
	mark, _, _ := bytes.Cut(demoPlan, []byte(":")) // demos of other versions are demos, too
	for _, s := range surveys {
		if !s.Simulated {
			return "surveys that are not simulated", nil
		}
		if !strings.HasPrefix(s.Plan, string(mark)) {
			return "surveys of other plans than the demo's", nil
		}
	}
	calibrations, err := db.Calibrations(ctx)
	if err != nil || len(calibrations) > 0 {
		return "calibrations", err
	}
	events, err := db.Events(ctx, 0)
	if err != nil || len(events) > 0 {
		return "events that were noted", err
	}
	return "", nil
}
