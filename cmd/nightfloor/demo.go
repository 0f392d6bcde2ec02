package main

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/reports"
	"nightfloor/store"
	"nightfloor/survey"
)

//go:embed demo-plan.toml
var demoPlan []byte

type demoOptions struct {
	folder string
	seed   uint64
}

func newDemoCommand(c *console) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Runs a whole simulated night and prints the ranking",
		Long: `Runs a whole night in a simulated house through the real pipeline: 8-bit I/Q in,
database and HTML page out, and prints the ranking. It needs no hardware, no
configuration and no network. Everything it writes is marked simulated.` + "\n" + exitHelp,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runDemo(cmd.Context(), o, c)
		},
	}
	cmd.Flags().StringVar(&o.folder, "out", "nightfloor-demo", "folder for the database and the page")
	cmd.Flags().Uint64Var(&o.seed, "seed", 1, "seed of the simulated night")
	return cmd
}

func runDemo(ctx context.Context, o demoOptions, c *console) error {
	plan, err := survey.ParsePlan(demoPlan)
	if err != nil {
		return err
	}
	plan.Seed, plan.Receiver = o.seed, sceneURI(o.seed)
	if err := os.MkdirAll(o.folder, 0o755); err != nil {
		return fmt.Errorf("demo: %w; name another folder with --out", err)
	}
	database := filepath.Join(o.folder, "nightfloor.db")
	if err := clearDemo(ctx, database); err != nil {
		return err
	}
	house, err := openReceiver(plan)
	if err != nil {
		return err
	}
	defer house.Close()
	if err := carryOut(ctx, c, database, &capture.Recorder{Plan: plan, Receiver: house, Clock: house, Changer: house}); err != nil {
		return err
	}
	db, err := store.OpenReadOnly(ctx, database)
	if err != nil {
		return err
	}
	defer db.Close()
	report, _, err := loadReport(ctx, db, reports.Options{}, true)
	if err != nil {
		return err
	}
	page := filepath.Join(o.folder, "report.html")
	if err := writePage(page, report); err != nil {
		return err
	}
	if err := reports.WriteSummary(c.out, *report); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.out, "\nreport:   %s\ndatabase: %s\n", page, database)
	return err
}

// clearDemo takes an earlier demo's database away. One that holds anything but
// simulated surveys is somebody's work, and is refused.
func clearDemo(ctx context.Context, path string) error {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	db, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	surveys, err := db.Surveys(ctx)
	db.Close()
	if err != nil {
		return err
	}
	for _, s := range surveys {
		if !s.Simulated {
			return fmt.Errorf("demo: %s holds surveys that are not simulated, and the demo would replace it; name another folder with --out", path)
		}
	}
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("demo: %w; name another folder with --out", err)
		}
	}
	return nil
}
