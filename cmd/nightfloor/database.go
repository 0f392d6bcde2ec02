package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"nightfloor/store"
)

func newDatabaseCommand(c *console) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "database",
		Short: "Looks after the database",
		Long:  "Looks after the database." + "\n" + exitHelp,
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newDatabaseCheckCommand(c))
	return cmd
}

func newDatabaseCheckCommand(c *console) *cobra.Command {
	var database string
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Checks that the database is whole",
		Long: `Checks that the database is whole: SQLite's own checks, every reference from row to
row, and every stored spectrum. It brings an older database up to date.` + "\n" + exitHelp,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runDatabaseCheck(cmd.Context(), database, c) },
	}
	cmd.Flags().StringVar(&database, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
	return cmd
}

func runDatabaseCheck(ctx context.Context, database string, c *console) error {
	path, err := databasePath(database)
	if err != nil {
		return err
	}
	// Reading first: a check makes no database where there is none.
	if db, err := store.OpenReadOnly(ctx, path); err == nil {
		db.Close()
	} else if !errors.Is(err, store.ErrOlder) {
		return err
	}
	db, err := store.Open(ctx, path)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Check(ctx); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.out, "%s is whole\n", path)
	return err
}
