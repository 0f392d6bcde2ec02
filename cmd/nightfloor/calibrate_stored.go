package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/survey"
)

const schemaCalibrations = "nightfloor/calibrations/1"

// calibrationsDocument lists what is stored as JSON, oldest first.
type calibrationsDocument struct {
	Schema       string       `json:"schema"`
	Calibrations []storedJSON `json:"calibrations"`
}

type storedJSON struct {
	ID        int64                     `json:"calibration"`
	Kind      string                    `json:"kind"`
	Receiver  string                    `json:"receiver"`
	At        time.Time                 `json:"at"`
	Note      string                    `json:"note"`
	Figures   int                       `json:"figures"`
	Linearity []result.LinearityVerdict `json:"linearity"` // empty, never nil
}

func newCalibrateListCommand(c *console) *cobra.Command {
	var database string
	var json bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "Lists the calibrations that are stored",
		Long: `Lists the calibrations that are stored, oldest first, with their numbers. Which of them
served a survey's readings stands in nightfloor report quality.` + "\n" + exitHelp,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runCalibrateList(cmd.Context(), database, json, c)
		},
	}
	cmd.Flags().BoolVar(&json, "json", false, "print one JSON document")
	cmd.Flags().StringVar(&database, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
	return cmd
}

func runCalibrateList(ctx context.Context, database string, json bool, c *console) error {
	path, err := databasePath(database)
	if err != nil {
		return err
	}
	db, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	defer db.Close()
	all, err := db.Calibrations(ctx)
	if err != nil {
		return err
	}
	if json {
		d := calibrationsDocument{schemaCalibrations, []storedJSON{}}
		for _, k := range all {
			s := storedJSON{k.ID, k.Kind, k.Receiver, k.At, k.Note, figures(k), []result.LinearityVerdict{}}
			for _, l := range k.Linearity {
				s.Linearity = append(s.Linearity, result.VerdictOf(l))
			}
			d.Calibrations = append(d.Calibrations, s)
		}
		return result.WriteJSON(c.out, d)
	}
	_, err = fmt.Fprint(c.out, listCalibrations(all, time.Local))
	return err
}

// listCalibrations lists calibrations for a person to read.
func listCalibrations(all []survey.Calibration, zone *time.Location) string {
	if len(all) == 0 {
		return "no calibration is stored\n"
	}
	var b strings.Builder
	for _, k := range all {
		fmt.Fprintf(&b, "%d  %s, %s, %s\n", k.ID, k.Kind, k.At.In(zone).Format("2 Jan 2006 15:04 MST"), figuresText(k))
		fmt.Fprintf(&b, "   of %s\n", wording.Printable(k.Receiver))
		if k.Note != "" {
			fmt.Fprintf(&b, "   %s\n", wording.Printable(k.Note))
		}
	}
	return b.String()
}

// figures counts what a calibration found.
func figures(k survey.Calibration) int {
	n := len(k.Noise) + len(k.Levels) + len(k.Lines) + len(k.Linearity)
	if k.Clock != nil {
		n++
	}
	return n
}

func figuresText(k survey.Calibration) string {
	switch n := figures(k); {
	case k.Kind == survey.CalibrateLines && n == 0:
		return "no line"
	case k.Clock != nil:
		ppm := survey.DB(k.Clock.PPM)
		return wording.Signed(&ppm, 2) + " ppm"
	case n == 1:
		return "1 figure"
	default:
		return fmt.Sprintf("%d figures", n)
	}
}

func newCalibrateRemoveCommand(c *console) *cobra.Command {
	var database string
	cmd := &cobra.Command{
		Use:   "remove N…",
		Short: "Removes calibrations by their numbers",
		Long: `Removes calibrations, by the numbers that nightfloor calibrate list shows, with all they
found. Reports are made without them from then on; readings stay as they were stored.
Where one number is not there, nothing is removed.` + "\n" + exitHelp,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, words []string) error {
			return runCalibrateRemove(cmd.Context(), database, words, c)
		},
	}
	cmd.Flags().StringVar(&database, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
	return cmd
}

func runCalibrateRemove(ctx context.Context, database string, words []string, c *console) error {
	if len(words) == 0 {
		return usagef("calibrate remove: no number; name one that nightfloor calibrate list shows")
	}
	var ids []int64
	for _, word := range words {
		id, err := strconv.ParseInt(word, 10, 64)
		if err != nil || id < 1 {
			return usagef("calibrate remove %q: not the number of a calibration; see nightfloor calibrate list", word)
		}
		ids = append(ids, id)
	}
	path, err := databasePath(database)
	if err != nil {
		return err
	}
	// Reading first: nothing is made where there is no database, and an older one that
	// record may be writing stays as it is.
	reading, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	if err := reading.Close(); err != nil {
		return err
	}
	db, err := store.Open(ctx, path)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.RemoveCalibration(ctx, ids...); err != nil {
		return err
	}
	c.note("removed calibration %s from %s", strings.Join(words, ", "), path)
	return nil
}
