package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/wording"
	"nightfloor/store"
)

func newDatabaseCommand(c *console.Console) *cobra.Command {
	var database string
	check := &cobra.Command{
		Use:   "check",
		Short: "Checks that the database is whole",
		Long: `Checks that the database is whole: SQLite's own checks, every reference from row to
row, and every stored spectrum. It brings an older database up to date.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runDatabaseCheck(cmd.Context(), database, c) },
	}
	console.DatabaseVar(check.Flags(), &database)
	return console.Group("database", "Looks after the database", "Looks after the database.", check, newRenameCommand(c), newRemoveCommand(c))
}

// surveyNumber gives the number of a survey that was named by number or name, 0 for "".
func surveyNumber(ctx context.Context, db *store.Store, named string) (int64, error) {
	if id, err := strconv.ParseInt(named, 10, 64); err == nil || named == "" {
		return id, nil
	}
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return 0, err
	}
	names := make([]string, len(surveys))
	for i, s := range surveys {
		if s.Name == named {
			return s.ID, nil
		}
		names[i] = s.String()
	}
	return 0, fmt.Errorf("no survey is called %q; there is %s", named, cmp.Or(wording.List(names), "none"))
}

func runDatabaseCheck(ctx context.Context, database string, c *console.Console) error {
	db, path, err := open.Database(ctx, database, func(ctx context.Context, path string) (*store.Store, error) {
		db, err := store.OpenReadOnly(ctx, path)
		if errors.Is(err, store.ErrOlder) {
			return store.Open(ctx, path)
		}
		return db, err
	})
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Check(ctx); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.Out, "%s is whole\n", wording.Printable(path))
	return err
}
