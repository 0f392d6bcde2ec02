package console

import (
	"bytes"
	"os"
	"strings"
	"sync"

	gotext "github.com/jedib0t/go-pretty/v6/text"
	"golang.org/x/term"
)

// A footLine is the last line of a terminal, which is drawn anew whenever it changes and taken away
// before anything else is written.
type footLine struct {
	mu    sync.Mutex
	text  string // that is to be shown; "": none
	drawn int    // columns that it takes now; 0: none is drawn
}

// echoRoom is left free behind the line: what a terminal echoes there for Ctrl-C goes with it.
const echoRoom = 2

// LineWidth gives how many columns a line has that ShowLine draws; 0 where it draws none: standard
// error is no terminal that draws, or the user wants quiet.
func (c *Console) LineWidth() int {
	if !c.Terminal() {
		return 0
	}
	columns, _, err := term.GetSize(int(c.Err.(*os.File).Fd()))
	if err != nil || columns <= 0 {
		columns = 80 // of a terminal that does not say it
	}
	return max(0, columns-1-echoRoom) // in the last column some terminals begin a new line
}

// ShowLine draws a line at the foot of the terminal in place of the one before, and takes it away
// for "". What is too long is cut.
func (c *Console) ShowLine(text string) {
	c.foot.mu.Lock()
	defer c.foot.mu.Unlock()
	if text = gotext.Trim(text, c.LineWidth()); text == c.foot.text {
		return
	}
	c.foot.text = text
	_, _ = c.redraw(nil) // that it cannot be seen stops nothing; Write notices
}

// redraw takes the line away, writes b where it was, and draws the line below.
func (c *Console) redraw(b []byte) (n int, err error) {
	var out bytes.Buffer
	if c.foot.drawn > 0 {
		out.WriteString("\r" + blank(c.foot.drawn+echoRoom) + "\r")
	}
	before := out.Len()
	out.Write(b)
	after := out.Len()
	if c.foot.drawn = 0; len(b) == 0 || b[len(b)-1] == '\n' {
		out.WriteString(c.foot.text)
		c.foot.drawn = gotext.StringWidthWithoutEscSequences(c.foot.text)
	}
	if out.Len() == 0 {
		return 0, nil
	}
	n, err = c.Err.Write(out.Bytes())
	return max(0, min(n, after)-before), err
}

// blank is what takes away so many columns from the beginning of a line: the code that clears a line
// to its end (ECMA-48, 8.3.41), which stays in one row in a terminal that was made narrower, or spaces
// where the terminal knows no codes.
func blank(columns int) string {
	if name := os.Getenv("TERM"); name != "" && name != "dumb" {
		return "\x1b[K"
	}
	return strings.Repeat(" ", columns)
}
