package console

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"

	"nightfloor/capture/turn/turntest"
)

// A terminal gets what happens in plain words, without time and level; a journal keeps them as keys
// and values.
func TestLogAtATerminal(t *testing.T) {
	p := turntest.OpenPTY(t)
	say := func(c *Console) {
		log := c.Log(true).With("survey", 3)
		log.Info("round done", "round", 1)
		log.Warn("fault began: antenna not in place", "asked", "loop@loft:110", "why", "the relay\x1b sticks")
	}
	c := New(nil, nil, p.Terminal)
	say(c)
	c.Verbose = true
	c.Log(false).Info("survey ended")
	const want = "nightfloor: warning: fault began: antenna not in place: the relay\\x1b sticks (survey 3, asked loop@loft:110)\nnightfloor: survey ended\n"
	if got := p.Await(t, "ended\n") + "ended\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	c.Quiet = true
	if log := c.Log(true); log.Enabled(t.Context(), slog.LevelWarn) || !log.Enabled(t.Context(), slog.LevelError) {
		t.Error("quiet, and warnings are shown, or errors are not")
	}
	var journal bytes.Buffer
	say(New(nil, nil, &journal))
	if got := journal.String(); !strings.Contains(got, `level=INFO msg="round done" survey=3 round=1`) || !strings.Contains(got, `asked=loop@loft:110 why="the relay\x1b sticks"`) {
		t.Errorf("%q", got)
	}
}
