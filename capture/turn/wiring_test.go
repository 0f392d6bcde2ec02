package turn

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

var (
	straight = survey.Wiring{FeedLines: "straight", Idle: "50 ohm"}
	crossed  = survey.Wiring{FeedLines: "crossed", Idle: "50 ohm"}
)

type rewired struct {
	inPlace survey.Wiring
	err     error
}

// rewires begins to ask for a wiring and comes back when the question is put.
func (d *desk) rewires(t *testing.T, was, asked survey.Wiring) <-chan rewired {
	done := make(chan rewired, 1)
	go func() {
		w, err := d.Rewire(t.Context(), was, asked)
		done <- rewired{w, err}
	}()
	time.Sleep(200 * time.Millisecond)
	return done
}

// A person is told all at the beginning and what is new at half time, and is not waited for for ever.
func TestPersonRewires(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		done := d.rewires(t, survey.Wiring{}, straight)
		if said := d.screen.read(); !strings.HasSuffix(said, "\nPut the feed lines straight, each antenna's to its own end of the switch, end\nthe antennas that are not heard in 50 ohm at the switch, and press Enter.\n(Or s to leave it as it is; ? for cautions.)\n") || !strings.Contains(said, "Thunder") {
			t.Errorf("it said %q", said)
		}
		d.types(t, "70\n")
		d.types(t, "?\n")
		if said := d.screen.read(); !strings.Contains(said, "That is no answer here. Press Enter, or type s or ?.\n") || !strings.Contains(said, "Never work on a mast alone.") {
			t.Errorf("it said %q", said)
		}
		d.types(t, "\n")
		if got := <-done; got != (rewired{straight, nil}) {
			t.Errorf("%+v", got)
		}
		d.screen.read()
		done = d.rewires(t, straight, crossed)
		if said := d.screen.read(); said != "\nNow cross the feed lines, each antenna's to the other's end of the switch, and\npress Enter.\n(Or s to leave it as it is; ? for cautions.)\n" {
			t.Errorf("it said %q", said)
		}
		d.types(t, "s\n")
		if got := <-done; got != (rewired{straight, nil}) {
			t.Errorf("left as it is: %+v", got)
		}
		d.screen.read()
		begun := time.Now()
		got := <-d.rewires(t, straight, crossed)
		if waited := time.Since(begun); waited != 10*time.Minute || got != (rewired{straight, nil}) {
			t.Errorf("waited for %v: %+v", waited, got)
		}
		if said := d.screen.read(); !strings.Contains(said, "\aStill waiting for feed lines crossed, idle antennas 50 ohm; 1 of 10 min.\n") ||
			!strings.HasSuffix(said, "Going on: nobody answered for 10m; left as it is: feed lines straight, idle\nantennas 50 ohm.\n") {
			t.Errorf("it said %q", said)
		}
		if got := <-d.rewires(t, survey.Wiring{}, straight); got != (rewired{}) {
			t.Errorf("nobody knows what is in place: %+v", got)
		}
		done = d.rewires(t, crossed, crossed) // a survey that is taken up
		if said := d.screen.read(); !strings.Contains(said, "nobody said how it stands") || !strings.Contains(said, "\nCross the feed lines, each antenna's") {
			t.Errorf("it said %q", said)
		}
		d.keys.Close()
		if got := <-done; got.err == nil || !strings.Contains(got.err.Error(), "nobody can be asked any more") {
			t.Errorf("%+v", got)
		}
	})
}

// What was typed in a visit that nobody confirmed makes it doubtful, a question about the wiring between or not.
func TestRewiringKeepsDoubt(t *testing.T) {
	atDesk(t, func(t *testing.T, d *desk) {
		d.confirms(t, setup("loop", "loft", 70))
		<-d.asks(t, setup("whip", "study"))
		d.types(t, "\n")
		done := d.rewires(t, straight, crossed)
		d.types(t, "\n")
		<-done
		for _, doubt := range []bool{true, false} {
			done := d.asks(t, setup("whip", "study"))
			if len(done) == 0 {
				d.types(t, "\n")
			}
			if got := outcome(t, done); got.err != nil || got.reached.DoubtBefore != doubt {
				t.Errorf("%+v, %v; want doubt %v", got.reached, got.err, doubt)
			}
		}
	})
}

// A program is told at each change.
func TestCommandGetsTheWiring(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out")
	c := command(script(t, `echo "$NIGHTFLOOR_FEED_LINES|$NIGHTFLOOR_IDLE|$NIGHTFLOOR_CHOKES" >> "`+out+`"`))
	c.Wiring = straight
	chain := Chain{c, step(func(asked survey.Setup) (capture.Reached, error) { return capture.Reached{Setup: asked}, nil })}
	change := func() {
		if _, err := chain.Change(t.Context(), loop); err != nil {
			t.Fatal(err)
		}
	}
	change()
	got, err := chain.Rewire(t.Context(), straight, crossed)
	if err != nil || got != crossed {
		t.Fatal(got, err)
	}
	change()
	change()
	said, err := os.ReadFile(out)
	if want := "straight|50 ohm|\ncrossed|50 ohm|\ncrossed|50 ohm|\n"; err != nil || string(said) != want {
		t.Errorf("%q, %v, want %q", said, err, want)
	}
	if got, err := (Chain{}).Rewire(context.Background(), survey.Wiring{}, straight); err != nil || got != straight {
		t.Errorf("nobody to ask: %v, %v; want what the plan says", got, err)
	}
}
