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

// A command that lies about its exit is found out by a second program: what that
// one names is what counts, and where it names nothing known, nothing does.
func TestCommandIsConfirmed(t *testing.T) {
	whip := survey.Setup{Antenna: "whip", Placement: "study"}
	for said, want := range map[string]struct {
		setup survey.Setup
		err   string
	}{
		"loop":            {setup: loop},
		"loop@attic":      {setup: loop},
		"loop@attic:45.5": {setup: loop},
		"whip":            {setup: whip}, // the relay sticks
		"dipole":          {err: `says that "dipole" is in place, which is no setup of the plan`},
		"":                {err: `says that "" is in place`},
		"wire":            {err: "which 2 setups of the plan may be"},
	} {
		c := command(script(t, "exit 0"))
		c.Confirm = []string{script(t, "echo asked for $1 at $3; echo '"+said+"'")}
		c.Setups = []survey.Setup{loop, whip, {Antenna: "wire", Placement: "attic"}, {Antenna: "wire", Placement: "study"}}
		if said == "" {
			c.Confirm = []string{script(t, "exit 0")}
		}
		got, err := c.Change(t.Context(), loop)
		if want.err != "" {
			if !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), want.err) {
				t.Errorf("%q: %v, want %s", said, err, want.err)
			}
			continue
		}
		if err != nil || got.Setup != want.setup || want.setup == whip && !strings.Contains(got.Said, `says that "whip" is in place`) {
			t.Errorf("%q: %+v, %v; want %v", said, got, err, want.setup)
		}
	}
	c := command(script(t, "exit 0"))
	c.Confirm = []string{script(t, "echo no board; exit 3")}
	if _, err := c.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "no board") {
		t.Errorf("%v", err)
	}
}

// What is left of a change that was given up switches nothing later.
func TestCommandIsKilledWhole(t *testing.T) {
	late := filepath.Join(t.TempDir(), "switched")
	c := command(script(t, "(sleep 1; touch "+late+") & wait"))
	c.TimeOut = 200 * time.Millisecond
	if _, err := c.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) {
		t.Fatal(err)
	}
	time.Sleep(1500 * time.Millisecond)
	if _, err := os.Stat(late); err == nil {
		t.Error("a child of the program switched after it was given up")
	}
}

// A step is a changer that does what a test says.
type step func(asked survey.Setup) (capture.Reached, error)

func (s step) Change(_ context.Context, asked survey.Setup) (capture.Reached, error) { return s(asked) }

// The rotator is asked for what the switch reached, and the house follows both.
func TestChain(t *testing.T) {
	turned := loop
	turned.Bearing = survey.BearingOf(30)
	var followed survey.Setup
	chain := Chain{
		Switch: step(func(asked survey.Setup) (capture.Reached, error) {
			return capture.Reached{Setup: asked, Said: "relay 2"}, nil
		}),
		Rotator: step(func(asked survey.Setup) (capture.Reached, error) {
			return capture.Reached{Setup: turned, Bearing: survey.BearingOf(30.2), Said: "it stalled"}, nil
		}),
		House: step(func(asked survey.Setup) (capture.Reached, error) {
			followed = asked
			return capture.Reached{Setup: asked}, nil
		}),
	}
	got, err := chain.Change(t.Context(), loop)
	want := capture.Reached{Setup: turned, Bearing: survey.BearingOf(30.2), Said: "relay 2; it stalled"}
	if err != nil || got != want || followed != turned {
		t.Errorf("%+v, %v, the house followed to %v; want %+v", got, err, followed, want)
	}
	chain.Rotator = step(func(survey.Setup) (capture.Reached, error) { return capture.Reached{}, capture.ErrNotReached })
	followed = survey.Setup{}
	if _, err := chain.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) || followed != (survey.Setup{}) {
		t.Errorf("%v, the house followed to %v", err, followed)
	}
	if got, err := (Chain{}).Change(t.Context(), loop); err != nil || got.Setup != loop {
		t.Errorf("nothing to change: %+v, %v", got, err)
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
