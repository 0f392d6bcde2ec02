package turn

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
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

// givenUp lets a program run that does not end, for longer each time until it has come
// as far as a test wants, and gives the error.
func givenUp(t *testing.T, c *Command, come func(error) bool) error {
	t.Helper()
	for c.TimeOut = 200 * time.Millisecond; ; c.TimeOut *= 2 {
		if _, err := c.Change(t.Context(), loop); come(err) || c.TimeOut > time.Minute {
			return err
		}
	}
}

func TestCommandThatFails(t *testing.T) {
	t.Parallel() // it waits, mostly
	c := command(script(t, "echo starting; echo relay 3 does not answer >&2; exit 4"))
	c.TimeOut = time.Minute
	if _, err := c.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), `exit status 4 (it said "relay 3 does not answer"); run it by hand`) {
		t.Error(err)
	}
	for text, want := range map[string]string{"exec sleep 3600": "", "echo busy; exec yes": ` (it said "y`} {
		c := command(script(t, text))
		err := givenUp(t, c, func(err error) bool { return strings.Contains(err.Error(), want) })
		if want := fmt.Sprintf("did not end within %v%s", c.TimeOut, want); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", text, err, want)
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
		setup   survey.Setup
		bearing survey.Bearing
		err     string
	}{
		"loop":             {setup: loop},
		"loop@attic":       {setup: loop},
		"loop@attic:45.5":  {setup: loop, bearing: loop.Bearing},
		"loop@attic:045.5": {setup: loop, bearing: loop.Bearing},
		"loop@attic:48.5°": {setup: loop, bearing: survey.BearingOf(48.5)},
		"loop@attic:43":    {setup: loop, bearing: survey.BearingOf(43)},
		"loop@attic: 020":  {setup: setup("loop", "attic", 20), bearing: survey.BearingOf(20)},
		"loop@attic:20.0":  {setup: setup("loop", "attic", 20), bearing: survey.BearingOf(20)},
		"loop@attic:225.5": {setup: setup("loop", "attic", 225.5), bearing: survey.BearingOf(225.5)},
		"whip":             {setup: whip}, // the relay sticks
		"whip@study:20":    {setup: whip, bearing: survey.BearingOf(20)},
		"beam@mast:93":     {setup: setup("beam", "mast", 93), bearing: survey.BearingOf(93)},
		"dipole":           {err: `says that "dipole" is in place, which is no setup of the plan`},
		"loop@loft:45.5":   {err: "which is no setup of the plan"},
		"loop@attic:north": {err: "which is no setup of the plan"},
		"loop@attic:361":   {err: "which is no setup of the plan"},
		"":                 {err: " printed nothing; it must print"},
		"wire":             {err: "which 2 setups of the plan may be"},
	} {
		c := command(script(t, "exit 0"))
		c.Confirm = []string{script(t, "echo asked for $1 at $3; echo '"+said+"'")}
		c.Setups = []survey.Setup{loop, whip, {Antenna: "wire", Placement: "attic"}, {Antenna: "wire", Placement: "study"}, setup("beam", "mast", 90)}
		if said == "" {
			c.Confirm = []string{script(t, "echo loop >&2")} // which is no answer
		}
		got, err := c.Change(t.Context(), loop)
		if want.err != "" {
			if !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), want.err) {
				t.Errorf("%q: %v, want %s", said, err, want.err)
			}
			continue
		}
		if err != nil || got.Setup != want.setup || got.Bearing != want.bearing || (want.setup != loop) != strings.Contains(got.Said, `says that "`+said+`" is in place`) {
			t.Errorf("%q: %+v, %v; want %v", said, got, err, want.setup)
		}
	}
	c := command(script(t, "exit 0"))
	c.Confirm = []string{script(t, "echo no board; exit 3")}
	if _, err := c.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "no board") {
		t.Errorf("%v", err)
	}
}

// North is 0 and 360, and bearings beside it lie close.
func TestCommandIsConfirmedAcrossNorth(t *testing.T) {
	north := setup("loop", "attic", 1)
	for said, want := range map[string]float64{"359": 359, "360": 0, "4.0": 4} {
		c := command(script(t, "exit 0"))
		c.Confirm, c.Setups = []string{script(t, "echo loop@attic:"+said)}, []survey.Setup{north}
		if got, err := c.Change(t.Context(), north); err != nil || got != (capture.Reached{Setup: north, Bearing: survey.BearingOf(want)}) {
			t.Errorf("%s: %+v, %v", said, got, err)
		}
	}
}

// The answer is the last line of the standard output, whatever is warned of
// behind it; what is said of a failure may stand in either.
func TestCommandConfirmsOnItsStandardOutput(t *testing.T) {
	c := command(script(t, "exit 0"))
	c.Confirm, c.Setups = []string{script(t, "echo loop; echo whip >&2")}, []survey.Setup{loop, setup("whip", "study")}
	if got, err := c.Change(t.Context(), loop); err != nil || got != (capture.Reached{Setup: loop}) {
		t.Errorf("%+v, %v", got, err)
	}
	for text, want := range map[string]string{"echo whip; echo no board >&2; exit 3": `(it said "no board")`, "echo no relay; exit 3": `(it said "no relay")`} {
		c.Confirm = []string{script(t, text)}
		if _, err := c.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// A program that prints without end fills no memory.
func TestCommandPrintsWithoutEnd(t *testing.T) {
	c := command(script(t, "exec yes"))
	c.TimeOut = 500 * time.Millisecond
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if _, err := c.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) {
		t.Error(err)
	}
	runtime.ReadMemStats(&after)
	if taken := after.TotalAlloc - before.TotalAlloc; taken > 4<<20 {
		t.Errorf("%d bytes were taken", taken)
	}
}

func TestTail(t *testing.T) {
	for _, piece := range []int{1, 7, 4095, 4096, 4097, 50_000} {
		var kept Tail
		text := strings.Repeat("0123456789\n", 10_000) + "relay 3\n"
		for left := text; left != ""; left = left[min(piece, len(left)):] {
			if n, err := kept.Write([]byte(left[:min(piece, len(left))])); n != min(piece, len(left)) || err != nil {
				t.Fatal(n, err)
			}
			if len(kept.kept) > 4096 || cap(kept.kept) > 4*4096 {
				t.Fatalf("pieces of %d: %d bytes are kept in %d", piece, len(kept.kept), cap(kept.kept))
			}
		}
		if got := string(kept.kept); got != text[len(text)-4096:] || kept.Line() != "relay 3" {
			t.Errorf("pieces of %d: kept %q", piece, got)
		}
	}
	var kept Tail
	if kept.Line() != "" {
		t.Error(kept.Line())
	}
}

// What is left of a change that was given up switches nothing later.
func TestCommandIsKilledWhole(t *testing.T) {
	t.Parallel() // it waits, mostly
	there, line := filepath.Join(t.TempDir(), "there"), filepath.Join(t.TempDir(), "line")
	if said, err := exec.Command("mkfifo", line).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	// A child that waits for its moment to switch.
	c := command(script(t, "(touch "+there+"; read moment < "+line+") & wait"))
	err := givenUp(t, c, func(error) bool { _, err := os.Stat(there); return err == nil })
	if !errors.Is(err, capture.ErrNotReached) {
		t.Fatal(err)
	}
	for begun := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		switches, err := os.OpenFile(line, os.O_WRONLY|syscall.O_NONBLOCK, 0)
		if errors.Is(err, syscall.ENXIO) { // nobody waits at the other end
			return
		}
		switches.Close()
		if time.Since(begun) > time.Minute {
			t.Fatal("a child of the program was left after it was given up:", err)
		}
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
		step(func(asked survey.Setup) (capture.Reached, error) {
			return capture.Reached{Setup: asked, Said: "relay 2"}, nil
		}),
		step(func(asked survey.Setup) (capture.Reached, error) {
			return capture.Reached{Setup: turned, Bearing: survey.BearingOf(30.2), Said: "it stalled"}, nil
		}),
		step(func(asked survey.Setup) (capture.Reached, error) {
			followed = asked
			return capture.Reached{Setup: asked}, nil
		}),
	}
	got, err := chain.Change(t.Context(), loop)
	want := capture.Reached{Setup: turned, Bearing: survey.BearingOf(30.2), Said: "relay 2; it stalled"}
	if err != nil || got != want || followed != turned {
		t.Errorf("%+v, %v, the house followed to %v; want %+v", got, err, followed, want)
	}
	chain[1] = step(func(survey.Setup) (capture.Reached, error) { return capture.Reached{}, capture.ErrNotReached })
	followed = survey.Setup{}
	if _, err := chain.Change(t.Context(), loop); !errors.Is(err, capture.ErrNotReached) || followed != (survey.Setup{}) {
		t.Errorf("%v, the house followed to %v", err, followed)
	}
	if got, err := (Chain{}).Change(t.Context(), loop); err != nil || got.Setup != loop {
		t.Errorf("nothing to change: %+v, %v", got, err)
	}
}

// Doubt of the visit before goes through, beside an error too.
func TestChainPassesDoubtOn(t *testing.T) {
	doubt := step(func(asked survey.Setup) (capture.Reached, error) {
		return capture.Reached{Setup: asked, DoubtBefore: true}, nil
	})
	fails := step(func(survey.Setup) (capture.Reached, error) {
		return capture.Reached{DoubtBefore: true}, capture.ErrNotReached
	})
	stuck := step(func(survey.Setup) (capture.Reached, error) { return capture.Reached{}, capture.ErrNotReached })
	for _, chain := range []Chain{{doubt}, {doubt, stuck}, {fails}} {
		if got, err := chain.Change(t.Context(), loop); !got.DoubtBefore || err != nil && got != (capture.Reached{DoubtBefore: true}) {
			t.Errorf("%+v, %v", got, err)
		}
	}
}

// Where a program saw the antenna point before the rotator turned it, is not where
// it is to be turned.
func TestChainTurnsToTheAskedBearing(t *testing.T) {
	m := (&mast{at: 20, step: 30}).raise(t)
	c := command(script(t, "exit 0"))
	c.Confirm, c.Setups = []string{script(t, "echo loop@attic:20")}, []survey.Setup{toward(100)}
	got, err := Chain{c, rotator(m.address)}.Change(t.Context(), toward(100))
	if err != nil || got.Setup != toward(100) || got.Bearing != survey.BearingOf(100) {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestChainIsReady(t *testing.T) {
	m := (&mast{}).raise(t)
	there := Chain{&Person{}, rotator(m.address)}
	if err := errors.Join(Chain{}.Ready(t.Context()), there.Ready(t.Context())); err != nil {
		t.Error(err)
	}
	r := rotator("127.0.0.1:1")
	r.timing.patience = 20 * time.Millisecond
	if err := (Chain{r}).Ready(t.Context()); err == nil || !strings.Contains(err.Error(), "rotator at 127.0.0.1:1") {
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
