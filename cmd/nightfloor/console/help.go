package console

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"nightfloor/reports/text"
)

// ExitHelp ends the long help of every command.
const ExitHelp = `
Exit status: 0 done; 1 it failed, with a line on standard error that says what,
why and what to do; 2 wrong usage.`

// Attach has a program's root command, and those below it, read and write here, take --quiet and
// --verbose, say in plain words what is wrong with a flag, and break lines of helps that are longer
// than the terminal is wide.
func (c *Console) Attach(root *cobra.Command) {
	root.SetIn(c.In)
	root.SetOut(c.Out)
	root.SetErr(c.Err)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		err = plainFlagError(cmd, err)
		if name := nameOf(cmd); name != "" {
			err = fmt.Errorf("%s: %w", name, err)
		}
		return Usagef("%w; see %s --help", err, cmd.CommandPath())
	})
	root.PersistentPreRunE = func(cmd *cobra.Command, _ []string) error {
		c.sayReadings()
		return emptyFlag(cmd)
	}
	root.PersistentFlags().BoolVar(&c.Quiet, "quiet", false, "say nothing but results and errors")
	root.PersistentFlags().BoolVar(&c.Verbose, "verbose", false, "say what is being done")
	show := root.HelpFunc()
	root.SetHelpFunc(func(cmd *cobra.Command, args []string) {
		var help bytes.Buffer
		cmd.Long = text.Flow(cmd.Long)
		cmd.SetOut(&help)
		show(cmd, args)
		cmd.SetOut(c.Out)
		_ = c.Fold(c.Out, "%s", help.String())
	})
}

// emptyFlag refuses a flag that was given nothing, as by a variable of the shell that is not set: it
// must not count as left away.
func emptyFlag(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if f.Value.Type() == "string" && f.Value.String() == "" {
			err = Usagef("%s: --%s is empty; give it a value, or leave it away", nameOf(cmd), f.Name)
		}
	})
	return err
}

// Group gives a command that only has others below it, and shows its help.
func Group(use, short, long string, commands ...*cobra.Command) *cobra.Command {
	group := &cobra.Command{Use: use, Short: short, Long: long + "\n" + ExitHelp, Args: NoArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	group.SuggestionsMinimumDistance = NearName
	group.AddCommand(commands...)
	return group
}

// NearName is by how many letters a name may differ from one that was meant.
const NearName = 2

// nameOf gives a command's name, with those that it is below; "" of the program's own.
func nameOf(cmd *cobra.Command) string {
	_, name, _ := strings.Cut(cmd.CommandPath(), " ")
	return name
}

// KnownCommand refuses a command line that names a command below another that is not there: what is
// written behind it, flags and --help, is none of that other's.
func KnownCommand(root *cobra.Command, args []string) error {
	if len(args) > 0 && args[0] == "help" {
		args = args[1:]
	}
	cmd, left, err := root.Find(args)
	if err != nil || !cmd.HasSubCommands() {
		return err
	}
	for _, word := range left {
		switch {
		case word == "--quiet" || word == "--verbose":
		case strings.HasPrefix(word, "-"), cmd == root && (word == "help" || word == "completion" || strings.HasPrefix(word, cobra.ShellCompRequestCmd)):
			return nil
		default:
			return NoArguments(cmd, []string{word})
		}
	}
	return nil
}

// NoArguments refuses arguments, as wrong usage.
func NoArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		return Usagef("unknown command %q; did you mean %s?", args[0], strings.Join(near, " or "))
	}
	return Usagef("unknown command or argument %q; see %s --help", args[0], cmd.CommandPath())
}

// SomeFiles wants one file or more.
func SomeFiles(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return Usagef("%s: no file named; see %s --help", nameOf(cmd), cmd.CommandPath())
	}
	return emptyName(cmd, args)
}

// OneFile wants exactly one file.
func OneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return Usagef("%s: name one file; see %s --help", nameOf(cmd), cmd.CommandPath())
	}
	return emptyName(cmd, args)
}

// emptyName refuses files of which one has no name, as emptyFlag refuses flags.
func emptyName(cmd *cobra.Command, files []string) error {
	if slices.Contains(files, "") {
		return Usagef("%s: a file's name is empty; name a file", nameOf(cmd))
	}
	return nil
}
