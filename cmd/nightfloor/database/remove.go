package database

import (
	"context"
	"fmt"
	"os"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/survey"
)

func newRemoveCommand(c *console.Console) *cobra.Command {
	var database string
	var yes bool
	cmd := &cobra.Command{
		Use:   "remove-survey NUMBER|NAME",
		Short: "Removes a survey with all that was measured in it",
		Long: `Removes a survey with all that was measured in it, for good; nightfloor report quality
shows which there are. Its recordings can be imported anew. The room that it took is
given back to the disk where what is left fits there once more, and is used for what is
stored next otherwise. Nothing is removed while record works on the database.` + "\n" + console.ExitHelp,
		Args: func(cmd *cobra.Command, names []string) error {
			if len(names) != 1 || names[0] == "" {
				return console.Usagef("remove-survey: name one survey by its number or name; see %s --help", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, names []string) error {
			return runRemove(cmd.Context(), database, names[0], yes, c)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	console.DatabaseVar(cmd.Flags(), &database)
	return cmd
}

func runRemove(ctx context.Context, database, named string, yes bool, c *console.Console) error {
	db, path, release, err := open.ToWrite(ctx, database, open.There)
	if err != nil {
		return err
	}
	defer release()
	s, err := surveyNamed(ctx, db, named)
	if err != nil {
		return fmt.Errorf("remove-survey: %w", err)
	}
	what := fmt.Sprintf("%v (%s)", s, held(s))
	if err := c.Confirm(ctx, "remove-survey "+named, what+" is removed for good", yes); err != nil {
		return err
	}
	before := sizeOf(path)
	if err := db.RemoveSurvey(ctx, s.ID); err != nil {
		return err
	}
	if err := db.Compact(ctx); err != nil {
		c.Note("the room that it took is used for what is stored next: %v", err)
	}
	return c.Fold(c.Out, "removed %s; %s has %s now, before %s\n", what, path, megabytes(sizeOf(path)), megabytes(before))
}

// surveyNamed gives a survey by its number or name.
func surveyNamed(ctx context.Context, db *store.Store, named string) (s survey.Survey, err error) {
	id, err := open.Survey(ctx, db, named)
	if err != nil {
		return s, err
	}
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return s, err
	}
	i := slices.IndexFunc(surveys, func(s survey.Survey) bool { return s.ID == id })
	if i < 0 {
		return s, fmt.Errorf("there is no survey %d; nightfloor report quality shows which there are", id)
	}
	return surveys[i], nil
}

// held says in words when a survey was made.
func held(s survey.Survey) string {
	what := "recorded"
	if s.Kind == survey.KindImport {
		what = "imports"
	}
	switch {
	case s.Start.IsZero():
		return what + ", empty"
	case s.End.IsZero():
		return what + " from " + s.Start.Local().Format("2 Jan 2006 15:04 MST")
	}
	return what + ", " + wording.Span(s.Start, s.End, time.Local)
}

func sizeOf(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

func megabytes(size int64) string { return fmt.Sprintf("%.1f MB", float64(size)/1e6) }
