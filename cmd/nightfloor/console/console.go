// Package console is what all commands share of the command line: where they read and write, how
// wide lines are, what is said beside results and how far work has come, how flags are read and
// wrong usage is refused, and how an interrupt stops a command.
//
// A command is given a Console and writes its results to Out. All else goes through Note, Log,
// ShowLine or Write to Err, less or more of it by --quiet and --verbose. An error made by Usagef
// ends the program with exit status 2, another one with 1.
package console

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/term"

	"nightfloor/reports/text"
	"nightfloor/reports/wording"
)

// A Console is where a command reads and writes, and how much it says. Results
// go to Out, everything else to Err.
type Console struct {
	In       io.Reader
	Out, Err io.Writer
	Quiet    bool            // nothing but results and errors
	Verbose  bool            // what is being done, too
	stop     func()          // as the first interrupt
	atOnce   context.Context // ends at the second interrupt
	foot     *footLine       // of the terminal
	lines    *bufio.Reader   // of In, once somebody was asked
	readings []string        // how values of flags were read, to be said once --quiet is known
}

// New gives a console on three streams. Nothing stops it before CatchSignals.
func New(in io.Reader, out, err io.Writer) *Console {
	return &Console{In: in, Out: out, Err: err, stop: func() {}, atOnce: context.Background(), foot: &footLine{}}
}

// Note says something beside the results, unless the user wants quiet. However long it is, it is
// one line: a command in it can be copied.
func (c *Console) Note(format string, args ...any) {
	if !c.Quiet {
		fmt.Fprintf(c, "nightfloor: %s\n", wording.Printable(fmt.Sprintf(format, args...)))
	}
}

// plainWord matches what a shell takes as it stands; a backslash parts folders on Windows.
var plainWord = regexp.MustCompile(`^[\pL\pN_./:@%+=,\\-]+$`)

// Quoted gives a word of a command line as a shell takes it, for commands that are to be copied.
func Quoted(word string) string {
	if plainWord.MatchString(word) {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// Fail says why a command failed, in a line each.
func (c *Console) Fail(why string) {
	for line := range strings.Lines(why) {
		fmt.Fprintf(c.Err, "nightfloor: %s\n", wording.Printable(strings.TrimRight(line, "\n")))
	}
}

// Terminal tells whether progress may be drawn: standard error is a terminal, and draws.
func (c *Console) Terminal() bool {
	return !c.Quiet && IsTerminal(c.Err) && os.Getenv("TERM") != "dumb"
}

// IsTerminal tells whether a stream is a terminal, where somebody can read and be asked.
func IsTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// Width gives how many characters a line of results has: as COLUMNS says, else as the terminal
// is wide. Under 60 they have 60: tables need that much.
func (c *Console) Width() int {
	const least = 60
	columns, err := strconv.Atoi(os.Getenv("COLUMNS"))
	if err != nil || columns <= 0 {
		columns = text.Width
		if IsTerminal(c.Out) {
			if wide, _, err := term.GetSize(int(c.Out.(*os.File).Fd())); err == nil && wide > 0 {
				columns = wide
			}
		}
	}
	return max(least, columns)
}

// Fold prints lines, broken where they are too long.
func (c *Console) Fold(to io.Writer, format string, args ...any) error {
	_, err := io.WriteString(to, text.Fold(fmt.Sprintf(format, args...), c.Width()))
	return err
}

// A UsageError is wrong usage: exit status 2.
type UsageError struct{ error }

func (e UsageError) Unwrap() error { return e.error }

// Usagef gives a UsageError, in the words of fmt.Errorf.
func Usagef(format string, args ...any) error {
	return UsageError{fmt.Errorf(format, args...)}
}

// PrefixLines puts a prefix before every line of an error of several lines.
func PrefixLines(prefix string, err error) error {
	return fmt.Errorf("%s: %s", prefix, strings.ReplaceAll(err.Error(), "\n", "\n"+prefix+": "))
}
