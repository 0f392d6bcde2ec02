package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
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
	return console.Group("database", "Looks after the database", "Looks after the database.", check)
}

func runDatabaseCheck(ctx context.Context, database string, c *console.Console) error {
	db, path, err := openDatabase(ctx, database, func(ctx context.Context, path string) (*store.Store, error) {
		db, err := openThere(ctx, path)
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
	_, err = fmt.Fprintf(c.Out, "%s is whole\n", path)
	return err
}

// openDatabase opens the database that was named, or the default, by open, and gives its
// path as it was named.
func openDatabase(ctx context.Context, named string, open func(context.Context, string) (*store.Store, error)) (db *store.Store, path string, err error) {
	if path, err = databasePath(named); err != nil {
		return nil, "", err
	}
	db, err = open(ctx, path)
	return db, path, err
}

// databasePath gives the path of the database that was named, or of the default.
func databasePath(named string) (string, error) {
	if named != "" {
		return named, nil
	}
	return store.DefaultPath()
}

// databaseThere tells whether there is something at the database's path.
func databaseThere(named string) bool {
	path, err := databasePath(named)
	if err == nil {
		_, err = os.Stat(path)
	}
	return err == nil
}

// openThere opens a database for writing that is there and of this version. It reads
// first: nothing is made where there is no database, and an older one that record may be
// writing stays as it is (ErrOlder).
func openThere(ctx context.Context, path string) (*store.Store, error) {
	reading, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return nil, err
	}
	if err := reading.Close(); err != nil {
		return nil, err
	}
	return store.Open(ctx, path)
}
