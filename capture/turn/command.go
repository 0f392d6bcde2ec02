package turn

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A Command changes antennas by a program of the user's, started without a
// shell. It gets antenna, placement and bearing (degrees, "" for none) as its
// last three arguments, and as NIGHTFLOOR_ANTENNA, NIGHTFLOOR_PLACEMENT and
// NIGHTFLOOR_BEARING; the wiring as NIGHTFLOOR_FEED_LINES, NIGHTFLOOR_IDLE and
// NIGHTFLOOR_CHOKES. Exit status 0 says that the setup is in place, unless a
// second program is there to confirm it.
type Command struct {
	Argv    []string
	TimeOut time.Duration // of each program
	// Confirm is a program that gets the same and prints, as the last line of its
	// standard output, what is in place: ANTENNA, ANTENNA@PLACEMENT or
	// ANTENNA@PLACEMENT:BEARING. nil: none.
	Confirm []string
	Setups  []survey.Setup // that Confirm may name, with other bearings as well
	Wiring  survey.Wiring  // until Rewire asks for another
	Log     *slog.Logger
}

// Change runs the program, and the one that confirms. The error wraps
// capture.ErrNotReached and quotes what the program said last.
func (c *Command) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	var said Tail
	if err := c.run(ctx, c.Argv, asked, &said, &said); err != nil {
		return capture.Reached{}, err
	}
	reached := capture.Reached{Setup: asked, Said: said.Line()}
	if len(c.Confirm) > 0 {
		var out, errOut Tail
		if err := c.run(ctx, c.Confirm, asked, &out, &errOut); err != nil {
			return capture.Reached{}, err
		}
		confirmed, err := c.confirmed(asked, out.Line())
		if err != nil {
			return capture.Reached{}, err
		}
		reached.Setup, reached.Bearing = confirmed.Setup, confirmed.Bearing
		if reached.Setup != asked {
			reached.Said = fmt.Sprintf("%s says that %q is in place", c.Confirm[0], out.Line())
		}
	}
	c.Log.Debug("antenna changed", "setup", reached.Setup.String(), "said", reached.Said)
	return reached, nil
}

// run starts a program with the asked setup. The error wraps capture.ErrNotReached.
func (c *Command) run(ctx context.Context, argv []string, asked survey.Setup, out, errOut *Tail) error {
	bearing := ""
	if asked.Bearing.Known {
		bearing = strconv.FormatFloat(asked.Bearing.Deg, 'f', -1, 64)
	}
	env := []string{"NIGHTFLOOR_ANTENNA=" + asked.Antenna, "NIGHTFLOOR_PLACEMENT=" + asked.Placement, "NIGHTFLOOR_BEARING=" + bearing}
	err := RunProgram(ctx, c.TimeOut, append(slices.Clone(argv), asked.Antenna, asked.Placement, bearing), append(env, environment(c.Wiring)...), out, errOut)
	if err != nil && ctx.Err() == nil {
		err = fmt.Errorf("%w: %w", capture.ErrNotReached, err)
	}
	return err
}

// RunProgram starts a program of the user's, without a shell and with so much more in its
// environment, waits for its end and keeps the end of what it said. The error quotes its
// last line; where ctx ended before, it is that of ctx.
func RunProgram(ctx context.Context, timeOut time.Duration, argv, env []string, out, errOut *Tail) error {
	limited, cancel := context.WithTimeout(ctx, timeOut)
	defer cancel()
	cmd := exec.CommandContext(limited, argv[0], argv[1:]...)
	cmd.Env = append(os.Environ(), env...)
	cmd.WaitDelay = time.Second // a child of it may hold its output open
	killGroup(cmd)
	cmd.Stdout, cmd.Stderr = out, errOut
	err := cmd.Run()
	said := quoted(cmp.Or(errOut.Line(), out.Line()))
	switch {
	// A program may leave another running that holds a line of the switch, and
	// its own output with it.
	case err == nil, errors.Is(err, exec.ErrWaitDelay) && cmd.ProcessState.Success():
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	case limited.Err() != nil:
		return fmt.Errorf("%s did not end within %v%s; run it by hand to see why", argv[0], timeOut, said)
	}
	return fmt.Errorf("%s: %w%s; run it by hand to see why", argv[0], survey.FileTrouble(err), said)
}

// quoted puts what a program said into a message, "" for nothing.
func quoted(said string) string {
	if said == "" {
		return ""
	}
	return fmt.Sprintf(" (it said %q)", said)
}

// wallClock is what changes of antennas go by.
var wallClock capture.WallClock

// Only is the changer of a plan with one setup: it is in place.
type Only struct{ Setup survey.Setup }

// Change succeeds for the one setup.
func (o Only) Change(_ context.Context, asked survey.Setup) (capture.Reached, error) {
	if asked != o.Setup {
		return capture.Reached{}, fmt.Errorf("%w: nothing here changes antennas; add [change] to the plan", capture.ErrNotReached)
	}
	return capture.Reached{Setup: asked}, nil
}

// confirmed finds the setup that a program says is in place.
func (c *Command) confirmed(asked survey.Setup, said string) (capture.Reached, error) {
	if said == "" {
		return capture.Reached{}, fmt.Errorf("%w: %s printed nothing; it must print the antenna, or ANTENNA@PLACEMENT:BEARING, on the last line of its standard output", capture.ErrNotReached, c.Confirm[0])
	}
	if reached, ok := c.setupWithBearing(asked, said); ok {
		return reached, nil
	}
	names := func(s survey.Setup) bool { return said == s.Antenna || said == s.Antenna+"@"+s.Placement }
	if names(asked) {
		return capture.Reached{Setup: asked}, nil
	}
	var found []survey.Setup
	for _, s := range c.Setups {
		if names(s) {
			found = append(found, s)
		}
	}
	switch len(found) {
	case 1:
		return capture.Reached{Setup: found[0]}, nil
	case 0:
		return capture.Reached{}, fmt.Errorf("%w: %s says that %q is in place, which is no setup of the plan; it must print the antenna, or ANTENNA@PLACEMENT:BEARING, on its last line", capture.ErrNotReached, c.Confirm[0], said)
	}
	return capture.Reached{}, fmt.Errorf("%w: %s says that %q is in place, which %d setups of the plan may be; let it print ANTENNA@PLACEMENT:BEARING", capture.ErrNotReached, c.Confirm[0], said, len(found))
}

// setupWithBearing reads an antenna of the plan in its placement, and where it points: at
// the asked bearing, within the tolerance, or at another. Setups without a
// bearing stay without, wherever they point.
func (c *Command) setupWithBearing(asked survey.Setup, said string) (reached capture.Reached, ok bool) {
	name, typed, _ := strings.Cut(said, ":")
	bearing, ok := parseBearing(strings.TrimSpace(typed))
	if !ok {
		return capture.Reached{}, false
	}
	names := func(s survey.Setup) bool { return name == s.Antenna+"@"+s.Placement }
	if names(asked) && (!asked.Bearing.Known || math.Abs(bearing.From(asked.Bearing)) <= confirmTolerance) {
		return capture.Reached{Setup: asked, Bearing: bearing}, true
	}
	for _, s := range append([]survey.Setup{asked}, c.Setups...) {
		if !names(s) {
			continue
		}
		reached, ok = capture.Reached{Setup: s, Bearing: bearing}, true
		if s.Bearing.Known {
			reached.Setup.Bearing = bearing
			return reached, true
		}
	}
	return reached, reached.Bearing.Known
}

// confirmTolerance is by how much a bearing that a program prints may miss and
// counts as the asked one, in degrees.
const confirmTolerance = 3

// A Tail keeps the end of what is written to it.
type Tail struct{ kept []byte }

// longestTail is what a tail keeps, in bytes: a program may print without end.
const longestTail = 4 << 10

// Write keeps the end.
func (t *Tail) Write(p []byte) (int, error) {
	n := len(p)
	p = p[max(0, n-longestTail):]
	drop := max(0, len(t.kept)+len(p)-longestTail)
	t.kept = append(t.kept[:copy(t.kept, t.kept[drop:])], p...)
	return n, nil
}

// Line gives the last line, not too long.
func (t *Tail) Line() string {
	lines := strings.Split(strings.TrimSpace(string(t.kept)), "\n")
	last := strings.TrimSpace(lines[len(lines)-1])
	const most = 200
	if len(last) > most {
		last = strings.ToValidUTF8(last[:most], "") + "…"
	}
	return last
}
