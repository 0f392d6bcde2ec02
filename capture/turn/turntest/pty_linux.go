package turntest

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// A PTY is a terminal as the kernel makes one, and the other side of it: what a
// person's keyboard and screen would be.
type PTY struct {
	Terminal *os.File // what a program has for input and output

	far  *os.File
	seen chan string // what was printed, piece by piece
	said string      // of it, what was not waited for yet
}

// OpenPTY opens one, closed at the end of the test; where there is none the test is
// skipped, and fails in CI.
func OpenPTY(t *testing.T) *PTY {
	t.Helper()
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skipf("no pseudo-terminal here: %v", err)
	}
	t.Cleanup(func() { far.Close() })
	if err := unix.IoctlSetPointerInt(int(far.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetUint32(int(far.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	terminal, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { terminal.Close() })
	p := &PTY{Terminal: terminal, far: far, seen: make(chan string, 1000)}
	go func() {
		defer close(p.seen)
		buf := make([]byte, 4096)
		for {
			n, err := far.Read(buf)
			if err != nil {
				return
			}
			p.seen <- string(buf[:n])
		}
	}()
	return p
}

// Types presses keys.
func (p *PTY) Types(t *testing.T, text string) {
	t.Helper()
	if _, err := p.far.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

// Rest gives what was printed since, once nobody prints any more.
func (p *PTY) Rest() string {
	for {
		select {
		case more := <-p.seen:
			p.said += more
		case <-time.After(50 * time.Millisecond):
			return p.said
		}
	}
}

// Await waits until a text was printed, and gives what came before it.
func (p *PTY) Await(t *testing.T, text string) string {
	t.Helper()
	late := time.After(time.Minute) // it is there within milliseconds
	for {
		if before, after, ok := strings.Cut(p.said, text); ok {
			p.said = after
			return before
		}
		select {
		case more := <-p.seen:
			p.said += strings.ReplaceAll(more, "\r\n", "\n")
		case <-late:
			t.Fatalf("%q was not printed, but %q", text, p.said)
		}
	}
}

// Columns makes the terminal so many columns wide.
func (p *PTY) Columns(t *testing.T, columns int) {
	t.Helper()
	if err := unix.IoctlSetWinsize(int(p.far.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Row: 24, Col: uint16(columns)}); err != nil {
		t.Fatal(err)
	}
}

// clearLine clears from the cursor to the end of the line (ECMA-48, 8.3.41).
const clearLine = "\x1b[K"

// Screen gives the lines that stand on a terminal after a text was printed there, with a character
// to a column and without spaces at their ends. Of escape codes it knows that which clears to the
// end of a line.
func Screen(printed string, columns int) (lines []string) {
	row, column := []rune{}, 0
	end := func() {
		lines = append(lines, strings.TrimRight(string(row), " "))
		row, column = row[:0], 0
	}
	for _, r := range strings.ReplaceAll(printed, clearLine, "\x1b") {
		switch r {
		case '\x1b':
			row = row[:min(column, len(row))]
			continue
		case '\n':
			end()
			continue
		case '\r':
			column = 0
			continue
		}
		if column == columns {
			end()
		}
		if column == len(row) {
			row = append(row, r)
		}
		row[column] = r
		column++
	}
	end()
	return lines
}
