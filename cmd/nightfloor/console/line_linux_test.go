package console

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"nightfloor/capture/turn/turntest"
)

// The line at the foot of a terminal is cut to its width, makes way for what is said, comes again
// below that, and leaves nothing behind.
func TestLineAtATerminal(t *testing.T) {
	t.Setenv("TERM", "xterm")
	long := "round 3 of 24  loop@loft:110  31 m −98.2  49 m −96.0  overload on 49 m  ends 07:00 CET"
	for columns, cut := range map[int]string{
		40:  "round 3 of 24  loop@loft:110  31 m −9",
		80:  "round 3 of 24  loop@loft:110  31 m −98.2  49 m −96.0  overload on 49 m  ends ",
		120: long,
	} {
		p := turntest.OpenPTY(t)
		p.Columns(t, columns)
		t.Setenv("TERM", map[bool]string{true: "", false: "vt100"}[columns == 80])
		c := New(nil, nil, p.Terminal)
		if got := c.LineWidth(); got != columns-3 {
			t.Errorf("%d columns: a line of %d", columns, got)
		}
		var shown []string
		printed := ""
		look := func(mark string) { // what stands there once all is printed
			fmt.Fprint(p.Terminal, mark)
			printed += p.Await(t, mark)
			lines := turntest.Screen(printed, columns)
			shown = append(shown, lines[len(lines)-1])
		}
		c.ShowLine(long)
		look("\x01")
		fmt.Fprint(p.Terminal, "^C") // as it is echoed
		c.Note("fault")
		look("\x02")
		c.ShowLine("short")
		look("\x03")
		c.ShowLine("")
		look("\x04")
		c.Note("end")
		look("\x05")
		if want := []string{strings.TrimRight(cut, " "), strings.TrimRight(cut, " "), "short", "", ""}; !slices.Equal(shown, want) {
			t.Errorf("%d columns: %q, want %q", columns, shown, want)
		}
		if lines := turntest.Screen(printed, columns); !slices.Equal(lines, []string{"nightfloor: fault", "nightfloor: end", ""}) {
			t.Errorf("%d columns: left are %q", columns, lines)
		}
		if strings.Contains(printed, "\x1b") != (columns != 80) {
			t.Errorf("%q: escape codes, though no TERM says that the terminal knows them", printed)
		}
	}
}

// In a terminal that was made narrower the line is drawn anew in one row.
func TestLineInANarrowerTerminal(t *testing.T) {
	t.Setenv("TERM", "vt100")
	p := turntest.OpenPTY(t)
	p.Columns(t, 100)
	c := New(nil, nil, p.Terminal)
	c.ShowLine("round 3 of 24  loop@loft:110  31 m −98.2  49 m −96.0  overload on 49 m  ends 07:00 CET")
	p.Await(t, "CET")
	p.Columns(t, 40)
	c.ShowLine("round 4 of 24")
	fmt.Fprint(p.Terminal, "\x01")
	if lines := turntest.Screen(p.Await(t, "\x01"), 40); !slices.Equal(lines, []string{"round 4 of 24"}) {
		t.Errorf("%q", lines)
	}
}

// Quiet, or without a terminal, or in one that can draw nothing anew, no line is drawn.
func TestNoLine(t *testing.T) {
	t.Setenv("TERM", "dumb")
	d := turntest.OpenPTY(t)
	dumb := New(nil, nil, d.Terminal)
	dumb.ShowLine("round 1")
	bar := NewProgress(dumb, "importing", 2)
	bar.At(1)
	bar.End()
	fmt.Fprint(d.Terminal, "\x01")
	if got := d.Await(t, "\x01"); got != "" || dumb.LineWidth() != 0 {
		t.Errorf("%q, a line of %d", got, dumb.LineWidth())
	}
	t.Setenv("TERM", "xterm")
	p := turntest.OpenPTY(t)
	quiet := New(nil, nil, p.Terminal)
	quiet.Quiet = true
	var pipe strings.Builder
	piped := New(nil, nil, &pipe)
	for _, c := range []*Console{quiet, piped} {
		c.ShowLine("round 1")
		fmt.Fprintln(c, "said")
		if c.ShowLine(""); c.LineWidth() != 0 {
			t.Errorf("a line of %d", c.LineWidth())
		}
	}
	fmt.Fprint(p.Terminal, "\x01")
	if got := p.Await(t, "\x01"); got != "said\n" || pipe.String() != "said\n" {
		t.Errorf("%q, %q", got, pipe.String())
	}
}
