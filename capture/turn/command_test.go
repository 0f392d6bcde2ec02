package turn

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

var loop = survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(45.5)}

// script writes a program of a user's.
func script(t *testing.T, text string) string {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("shell scripts do not run there")
	}
	path := filepath.Join(t.TempDir(), "relay")
	if err := os.WriteFile(path, []byte("#!/bin/sh\n"+text), 0o755); err != nil {
		t.Fatal(err)
	}
	return path
}

func command(argv ...string) *Command {
	return &Command{Argv: argv, TimeOut: 10 * time.Second, Log: slog.New(slog.DiscardHandler)}
}

func TestCommandGetsTheSetup(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out")
	path := script(t, `echo "$1|$2|$3|$4|$NIGHTFLOOR_ANTENNA|$NIGHTFLOOR_PLACEMENT|$NIGHTFLOOR_BEARING" > "`+out+`"`)
	got, err := command(path, "board 1").Change(t.Context(), loop)
	if err != nil || got.Setup != loop {
		t.Fatal(got, err)
	}
	said, err := os.ReadFile(out)
	if err != nil || string(said) != "board 1|loop|attic|45.5|loop|attic|45.5\n" {
		t.Errorf("%q, %v", said, err)
	}
}

func TestCommandThatFails(t *testing.T) {
	for text, want := range map[string]string{
		"echo starting; echo relay 3 does not answer >&2; exit 4": `exit status 4 (it said "relay 3 does not answer"); run it by hand`,
		"exec sleep 60": "did not end within 200ms",
	} {
		c := command(script(t, text))
		c.TimeOut = 200 * time.Millisecond
		begun := time.Now()
		_, err := c.Change(t.Context(), loop)
		if !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", text, err)
		}
		if time.Since(begun) > 30*time.Second {
			t.Errorf("%s: it was waited for", text)
		}
	}
	// What it leaves running, holding a line of the switch, holds nothing up.
	if _, err := command(script(t, "sleep 5 & exit 0")).Change(t.Context(), loop); err != nil {
		t.Error(err)
	}
	if _, err := command("/no/such/program").Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) {
		t.Error(err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := command(script(t, "exit 0")).Change(gone, loop); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestOnly(t *testing.T) {
	if _, err := (Only{loop}).Change(t.Context(), loop); err != nil {
		t.Error(err)
	}
	if _, err := (Only{loop}).Change(t.Context(), survey.Setup{Antenna: "whip"}); !errors.Is(err, capture.ErrNotReached) {
		t.Error(err)
	}
}
