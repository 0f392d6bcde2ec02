package calibrating

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/calibration"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/survey"
)

func newListCommand(c *console.Console) *cobra.Command {
	var database string
	var json bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "Lists the calibrations that are stored",
		Long: `Lists the calibrations that are stored, oldest first, with their numbers. Which of them
served a survey's readings stands in nightfloor report quality.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runList(cmd.Context(), database, json, c)
		},
	}
	cmd.Flags().BoolVar(&json, "json", false, "print one JSON document")
	console.DatabaseVar(cmd.Flags(), &database)
	return cmd
}

func runList(ctx context.Context, database string, json bool, c *console.Console) error {
	db, _, err := open.Database(ctx, database, store.OpenReadOnly)
	if err != nil {
		return err
	}
	defer db.Close()
	all, err := db.Calibrations(ctx)
	if err != nil {
		return err
	}
	if json {
		return result.WriteJSON(c.Out, calibration.ListOf(all))
	}
	_, err = fmt.Fprint(c.Out, calibration.ListText(all, time.Local, c.Width()))
	return err
}

func newRemoveCommand(c *console.Console) *cobra.Command {
	var database string
	var yes bool
	cmd := &cobra.Command{
		Use:   "remove N…",
		Short: "Removes calibrations by their numbers",
		Long: `Removes calibrations, by the numbers that nightfloor calibrate list shows, with all they
found. Reports are made without them from then on; readings stay as they were stored. Of a
passband that was measured the curve is kept, as long as there is a survey that it is taken out of.
Where one number is not there, nothing is removed. At a terminal it asks first.` + "\n" + console.ExitHelp,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, words []string) error {
			return runRemove(cmd.Context(), database, words, yes, c)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	console.DatabaseVar(cmd.Flags(), &database)
	return cmd
}

func runRemove(ctx context.Context, database string, words []string, yes bool, c *console.Console) error {
	if len(words) == 0 {
		return console.Usagef("calibrate remove: no number; name one that nightfloor calibrate list shows")
	}
	var ids []int64
	for _, word := range words {
		id, err := strconv.ParseInt(word, 10, 64)
		if err != nil || id < 1 {
			return console.Usagef("calibrate remove %q: not the number of a calibration; see nightfloor calibrate list", word)
		}
		ids = append(ids, id)
	}
	db, path, err := open.Database(ctx, database, open.There)
	if err != nil {
		return err
	}
	defer db.Close()
	all, err := db.Calibrations(ctx)
	if err != nil {
		return err
	}
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return err
	}
	for _, id := range ids {
		switch c := numbered(all, id); {
		case c == nil:
			return fmt.Errorf("calibrate remove: calibration %d: no such entry; nightfloor calibrate list shows which there are", id)
		case c.Kind == survey.CalibratePassband:
			return fmt.Errorf("calibrate remove: calibration %d: only the passband's curve is left of it, which is taken out of what %s measured; it goes with the last of them", id, usersOf(id, surveys, all))
		}
	}
	numbers := strings.Join(words, ", ")
	if err := c.Confirm(ctx, "calibrate remove "+numbers, "what it found is removed for good, and reports are made without it", yes); err != nil {
		return err
	}
	if err := db.RemoveCalibration(ctx, ids...); err != nil {
		return err
	}
	c.Note("removed calibration %s from %s", numbers, path)
	if all, err = db.Calibrations(ctx); err != nil {
		return err
	}
	for _, id := range ids {
		if numbered(all, id) != nil {
			c.Note("of calibration %d the passband's curve is kept: it is taken out of what %s measured", id, usersOf(id, surveys, all))
		}
	}
	return nil
}

// numbered gives a calibration by its number, nil where it is not there.
func numbered(all []survey.Calibration, id int64) *survey.Calibration {
	if i := slices.IndexFunc(all, func(c survey.Calibration) bool { return c.ID == id }); i >= 0 {
		return &all[i]
	}
	return nil
}

// usersOf names what a calibration's curve of the passband was taken out of.
func usersOf(id int64, surveys []survey.Survey, calibrations []survey.Calibration) string {
	var users []string
	for _, s := range surveys {
		if s.DroopCalibration == id {
			users = append(users, fmt.Sprintf("survey %d", s.ID))
		}
	}
	for _, c := range calibrations {
		if c.DroopCalibration == id {
			users = append(users, fmt.Sprintf("calibration %d", c.ID))
		}
	}
	return wording.List(users)
}
