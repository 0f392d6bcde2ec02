// Package database is the command database: whether it is whole, a copy of it, setups under other names, surveys
// removed.
package database

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/cmd/nightfloor/output"
	"nightfloor/reports/wording"
	"nightfloor/store"
)

// NewCommand gives the command database with all below it. Version is of the program.
func NewCommand(c *console.Console, version string) *cobra.Command {
	var database string
	check := &cobra.Command{
		Use:   "check",
		Short: "Checks that the database is whole",
		Long: `Checks that the database is whole: SQLite's own checks, every reference from row to
row, and every stored spectrum. It brings an older database up to date.` + "\n" + console.ExitHelp,
		Args: console.NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runCheck(cmd.Context(), database, c) },
	}
	console.DatabaseVar(check.Flags(), &database)
	backup := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copies all that is stored into a new file",
		Long: `Copies all that is stored into a new file, and looks whether the copy is whole. Record may go
on meanwhile. A file that is there is left as it is. While record works a copy of the
database's file alone, made by other means, is not safe: what was stored last is not in it.` + "\n" + console.ExitHelp,
		Args: console.OneFile,
		RunE: func(cmd *cobra.Command, files []string) error {
			return runBackup(cmd.Context(), database, files[0], c)
		},
	}
	console.DatabaseVar(backup.Flags(), &database)
	return console.Group("database", "Looks after the database", "Looks after the database.", check, backup, newRenameCommand(c, version), newRemoveCommand(c))
}

func runBackup(ctx context.Context, database, to string, c *console.Console) error {
	if to == output.Dash {
		return console.Usagef("database backup -: - is no file name here; name a file")
	}
	db, path, err := open.Database(ctx, database, store.OpenReadOnly)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Backup(ctx, to); err != nil {
		return err
	}
	return c.Fold(c.Out, "%s is a copy of %s, and whole: %s\n", wording.Printable(to), wording.Printable(path), megabytes(sizeOf(to)))
}

func runCheck(ctx context.Context, database string, c *console.Console) error {
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
