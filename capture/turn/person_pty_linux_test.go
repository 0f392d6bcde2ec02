package turn

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/turn/turntest"
	"nightfloor/survey"
)

func personAt(p *turntest.PTY, remind, patience time.Duration) *Person {
	return &Person{In: p.Terminal, Out: p.Terminal, Plan: plans(remind, patience), Cautions: "Never work on a mast alone."}
}

// A whole session at a real terminal, which echoes and gives line by line.
func TestPersonAtATerminal(t *testing.T) {
	p := turntest.OpenPTY(t)
	person := personAt(p, time.Hour, 2*time.Hour)
	whip, loop := setup("whip", "study"), setup("loop", "loft", 70)
	change := func(ctx context.Context, asked survey.Setup) <-chan answer {
		done := make(chan answer, 1)
		go func() {
			reached, err := person.Change(ctx, asked)
			done <- answer{reached, err}
		}()
		return done
	}
	person.settling = 2 * time.Second // a slow machine reads it in that
	p.Types(t, "\n")                  // before the first question
	done := change(t.Context(), whip)
	p.Await(t, "Thunder about?")
	p.Await(t, "Connect the whip in the study, and press Enter.\n(Or s to leave this visit out; ? for cautions.)\n")
	p.Types(t, "?\n")
	p.Await(t, "Never work on a mast alone.\n\nwhip@study: Connect the whip in the study")
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "help\n")
	p.Await(t, "That is no answer here. Press Enter, or type s or ?.\n")
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "\n")
	if got := <-done; got.err != nil || got.reached.Setup != whip {
		t.Fatalf("%+v", got)
	}
	person.settling = 0
	done = change(t.Context(), loop)
	p.Await(t, "Connect the loop in the loft, turn its plane to 070°, and press\nEnter.\n")
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "110\x7f\x7f00°\n") // 110, of which 10 is rubbed out
	if got := <-done; got.err != nil || got.reached.Setup != setup("loop", "loft", 100) {
		t.Fatalf("%+v", got)
	}
	done = change(t.Context(), whip)
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "s\n")
	if got := <-done; !errors.Is(got.err, capture.ErrNotReached) {
		t.Fatalf("%+v", got)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done = change(ctx, whip)
	p.Await(t, "? for cautions.)\n")
	cancel()
	if got := <-done; !errors.Is(got.err, context.Canceled) {
		t.Fatalf("%+v", got)
	}
	done = change(t.Context(), whip)
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "\x04") // Ctrl-D: the input ends
	if got := <-done; got.err == nil || errors.Is(got.err, capture.ErrNotReached) || !strings.Contains(got.err.Error(), "nobody can be asked any more: the terminal's input has ended;") {
		t.Fatalf("%+v", got)
	}
}

func TestPersonIsAwayFromTheTerminal(t *testing.T) {
	p := turntest.OpenPTY(t)
	person := personAt(p, 20*time.Millisecond, time.Hour)
	whip, loop := setup("whip", "study"), setup("loop", "loft", 70)
	ctx, cancel := context.WithCancel(t.Context())
	reminded := make(chan error, 1)
	go func() {
		_, err := person.Change(ctx, whip)
		reminded <- err
	}()
	p.Await(t, "\aStill waiting for whip@study; ")
	p.Await(t, " of 1h.\n")
	cancel()
	if err := <-reminded; !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	person.Plan.Change.Patience = 300 * time.Millisecond
	got, err := person.Change(t.Context(), whip)
	if !errors.Is(err, capture.ErrNotReached) {
		t.Fatal(got, err)
	}
	p.Await(t, "Going on: nobody answered for 300ms; this visit is left out.\n")

	person.Plan.Change.Patience = time.Hour
	done := make(chan answer, 1)
	go func() {
		reached, err := person.Change(t.Context(), whip)
		done <- answer{reached, err}
	}()
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "\n")
	if got := <-done; got.err != nil || got.reached != (capture.Reached{Setup: whip}) {
		t.Fatalf("%+v", got)
	}
	person.Plan.Change.Patience = 100 * time.Millisecond
	if got, err = person.Change(t.Context(), loop); err != nil || got != (capture.Reached{Setup: whip, Said: "nobody answered for 100ms: still whip@study"}) {
		t.Fatal(got, err)
	}
	p.Await(t, "Going on with whip@study: nobody answered for 100ms.")
	p.Types(t, "\n\n") // late
	for range 60_000 { // the kernel hands it over in no time
		if person.typed.typedBetween() {
			break
		}
		time.Sleep(time.Millisecond)
	}
	if got, err = person.Change(t.Context(), loop); err != nil || got.Setup != whip || !got.DoubtBefore {
		t.Fatal("a late Enter was taken as the answer to the next question", got, err)
	}
}
