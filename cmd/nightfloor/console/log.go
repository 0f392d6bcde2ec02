package console

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"

	"nightfloor/reports/wording"
)

// Log gives the logger for what goes on while a command works. With rounds, and where
// there is no terminal but a journal or a file, it tells of each round, too. A terminal
// gets it in plain words.
func (c *Console) Log(rounds bool) *slog.Logger {
	level := slog.LevelWarn
	switch {
	case c.Quiet:
		level = slog.LevelError
	case c.Verbose:
		level = slog.LevelDebug
	case rounds && !c.Terminal():
		level = slog.LevelInfo
	}
	if IsTerminal(c.Err) {
		return slog.New(plainLog{c: c, level: level})
	}
	return slog.New(slog.NewTextHandler(c, &slog.HandlerOptions{Level: level}))
}

// A plainLog writes a record as a line for a person: "nightfloor: warning: WHAT: WHY (asked loop@loft)".
type plainLog struct {
	c     *Console
	level slog.Level
	attrs []slog.Attr
}

func (h plainLog) Enabled(_ context.Context, level slog.Level) bool { return level >= h.level }

func (h plainLog) Handle(_ context.Context, r slog.Record) error {
	text, why := r.Message, ""
	if r.Level >= slog.LevelWarn {
		text = "warning: " + text
	}
	attrs := slices.Clone(h.attrs)
	r.Attrs(func(a slog.Attr) bool { attrs = append(attrs, a); return true })
	var others []string
	for _, a := range attrs {
		if a.Key == "why" {
			why = ": " + a.Value.String()
			continue
		}
		others = append(others, a.Key+" "+a.Value.String())
	}
	if text += why; len(others) > 0 {
		text += " (" + strings.Join(others, ", ") + ")"
	}
	_, err := fmt.Fprintf(h.c, "nightfloor: %s\n", wording.Printable(text))
	return err
}

func (h plainLog) WithAttrs(more []slog.Attr) slog.Handler {
	h.attrs = append(slices.Clip(h.attrs), more...)
	return h
}

// WithGroup has no use here: no record has groups.
func (h plainLog) WithGroup(string) slog.Handler { return h }
