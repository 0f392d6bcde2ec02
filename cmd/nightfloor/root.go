package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"golang.org/x/term"

	"nightfloor/survey"
)

// exitHelp ends the long help of every command.
const exitHelp = `
Exit status: 0 done; 1 it failed, with a line on standard error that says what,
why and what to do; 2 wrong usage.`

// A console is where a command reads and writes, and how much it says. Results
// go to out, everything else to err.
type console struct {
	in       io.Reader
	out, err io.Writer
	quiet    bool
	verbose  bool
}

// note says something beside the results, unless the user wants quiet.
func (c *console) note(format string, args ...any) {
	if !c.quiet {
		fmt.Fprintf(c.err, "nightfloor: "+format+"\n", args...)
	}
}

// terminal tells whether progress may be drawn: standard error is a terminal.
func (c *console) terminal() bool {
	return !c.quiet && isTerminal(c.err)
}

// isTerminal tells whether a stream is a terminal, where somebody can read and be asked.
func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// log gives the logger for what goes on while a command works. With rounds, and where
// there is no terminal but a journal or a file, it tells of each round, too.
func (c *console) log(rounds bool) *slog.Logger {
	level := slog.LevelWarn
	switch {
	case c.quiet:
		level = slog.LevelError
	case c.verbose:
		level = slog.LevelDebug
	case rounds && !c.terminal():
		level = slog.LevelInfo
	}
	return slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: level}))
}

// usageError is wrong usage: exit status 2.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// run carries out one command line and gives the exit status.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	c := &console{in: in, out: out, err: errOut}
	root := newRootCommand(c)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	for line := range strings.Lines(err.Error()) {
		fmt.Fprintf(c.err, "nightfloor: %s\n", strings.TrimRight(line, "\n"))
	}
	var usage usageError
	if errors.As(err, &usage) {
		return 2
	}
	return 1
}

func newRootCommand(c *console) *cobra.Command {
	root := &cobra.Command{
		Use:   "nightfloor",
		Short: "Which antenna, in which room, turned which way, hears best",
		Long: `nightfloor compares shortwave receiving antennas in a noisy house: it takes turns
between them through a night, measures noise floors and carriers, and ranks them
by signal-to-noise ratio with honest intervals.

Start with: nightfloor demo` + "\n" + exitHelp,
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          noArguments,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SuggestionsMinimumDistance = 2 // letters apart, or SuggestionsFor finds nothing
	root.SetIn(c.in)
	root.SetOut(c.out)
	root.SetErr(c.err)
	root.SetVersionTemplate("nightfloor {{.Version}}\n")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		if own := (usageError{}); errors.As(err, &own) {
			return own // it names the flag
		}
		return usagef("%s: %w; see %s --help", cmd.Name(), err, cmd.CommandPath())
	})
	root.PersistentFlags().BoolVar(&c.quiet, "quiet", false, "say nothing but results and errors")
	root.PersistentFlags().BoolVar(&c.verbose, "verbose", false, "say what is being done")
	root.AddCommand(newDemoCommand(c), newReceiversCommand(c), newPlanCommand(c), newRecordCommand(c), newNoteCommand(c), newCalibrateCommand(c), newMeasureCommand(c), newImportCommand(c), newReportCommand(c), newDatabaseCommand(c), newLicencesCommand(c))
	return root
}

// newGroup gives a command that only has others below it, and shows its help.
func newGroup(use, short, long string, commands ...*cobra.Command) *cobra.Command {
	group := &cobra.Command{Use: use, Short: short, Long: long + "\n" + exitHelp, Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	group.AddCommand(commands...)
	return group
}

// noArguments refuses arguments, as wrong usage.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		return usagef("unknown command %q; did you mean %s?", args[0], strings.Join(near, " or "))
	}
	return usagef("unknown command or argument %q; see %s --help", args[0], cmd.CommandPath())
}

// someFiles wants one file or more.
func someFiles(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return usagef("%s: no file named; see %s --help", cmd.Name(), cmd.CommandPath())
	}
	return nil
}

// databaseVar adds the flag that names the database.
func databaseVar(flags *pflag.FlagSet, into *string) {
	flags.StringVar(into, "db", "", "database file (default: NIGHTFLOOR_DB, else the user's data folder)")
}

// frequencyVar adds a flag that takes a frequency. A bare number counts in the unit bare; 0: it
// needs a unit.
func frequencyVar(flags *pflag.FlagSet, into *survey.Hz, name string, bare survey.Hz, usage string) {
	flags.Func(name, usage, func(text string) (err error) {
		*into, err = survey.ParseFrequency(text, bare)
		if err == nil && *into <= 0 {
			err = fmt.Errorf("frequency %q: must be above 0", text)
		}
		if err != nil {
			err = usagef("--%s: %w", name, err)
		}
		return err
	})
}

// unitVar adds a flag that takes a number with its unit, which check may refuse. The error
// shows how to write the number that was given, or else the example.
func unitVar[T ~float64](flags *pflag.FlagSet, into *T, name, unit, example, usage string, check func(T) error) {
	flags.Func(name, usage, func(text string) error {
		number, ok := strings.CutSuffix(strings.TrimSpace(text), unit)
		number = strings.TrimSpace(strings.Replace(number, "−", "-", 1))
		x, err := strconv.ParseFloat(number, 64)
		if err == nil && x-x == 0 {
			if *into = T(x); ok {
				if err := check(*into); err != nil {
					return usagef("--%s %q: %w", name, text, err)
				}
				return nil
			}
			example = number
		}
		return usagef("--%s %q: not a number with the unit %s; write it as \"%s %s\"", name, text, unit, example, unit)
	})
}

// timeVar adds a flag that takes a time.
func timeVar(flags *pflag.FlagSet, into *time.Time, name, usage string) {
	flags.Func(name, usage, func(text string) error {
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return usagef("--%s %q: not an RFC 3339 time; write it as 2026-11-03T21:04:10Z", name, text)
		}
		*into = at.UTC()
		return nil
	})
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
