package main

import (
	"context"
	"database/sql"
	"errors"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/calibrating"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/database"
	"nightfloor/cmd/nightfloor/planning"
)

const stoppedByOperator = "stopped by the operator; what is stored is kept, and the command can be given again"

// run carries out one command line and gives the exit status.
func run(ctx context.Context, c *console.Console, args []string) int {
	root := newRootCommand(c)
	root.SetArgs(args)
	err := console.KnownCommand(root, args)
	if err == nil {
		err = root.ExecuteContext(ctx)
	}
	if err == nil {
		return 0
	}
	text := err.Error()
	if ctx.Err() != nil { // the operator did not cancel a context
		text = strings.NewReplacer(context.Canceled.Error(), stoppedByOperator, sql.ErrTxDone.Error(), stoppedByOperator).Replace(text)
	}
	c.Fail(text)
	var usage console.UsageError
	if errors.As(err, &usage) {
		return 2
	}
	return 1
}

func newRootCommand(c *console.Console) *cobra.Command {
	root := &cobra.Command{
		Use:   "nightfloor",
		Short: "Which antenna, in which room, turned which way, hears best",
		Long: `nightfloor compares shortwave receiving antennas in a noisy house: it takes turns
between them through a night, measures noise floors and carriers, and ranks them
by signal-to-noise ratio with honest intervals.

Start with: nightfloor demo` + "\n" + console.ExitHelp,
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          console.NoArguments,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SuggestionsMinimumDistance = console.NearName // or SuggestionsFor finds nothing
	root.SetVersionTemplate("nightfloor {{.Version}}\n")
	c.Attach(root)
	root.AddCommand(newDemoCommand(c), newReceiversCommand(c), planning.NewCommand(c), newRecordCommand(c), newNoteCommand(c), calibrating.NewCommand(c), newMeasureCommand(c), newImportCommand(c), newReportCommand(c), database.NewCommand(c, version()), newLicencesCommand(c))
	return root
}

// release is the version that this tree is on the way to.
const release = "0.1.0-dev"

// version gives the release with the commit that it was built from, where the
// build recorded one.
func version() string {
	commit, modified := "unknown", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch {
			case s.Key == "vcs.revision":
				commit = s.Value[:min(12, len(s.Value))]
			case s.Key == "vcs.modified" && s.Value == "true":
				modified = ", modified"
			}
		}
	}
	return release + " (commit " + commit + modified + ")"
}
