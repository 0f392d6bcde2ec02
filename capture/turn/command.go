package turn

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

var (
	_ capture.Changer = (*Command)(nil)
	_ capture.Changer = Only{}
)

// A Command changes antennas by a program of the user's, started without a
// shell. It gets antenna, placement and bearing (degrees, "" for none) as its
// last three arguments, and as NIGHTFLOOR_ANTENNA, NIGHTFLOOR_PLACEMENT and
// NIGHTFLOOR_BEARING. Exit status 0 says that the setup is in place, unless a
// second program is there to confirm it.
type Command struct {
	Argv    []string
	TimeOut time.Duration // of each program
	// Confirm is a program that gets the same and prints, as the last line of its
	// standard output, what is in place: ANTENNA, ANTENNA@PLACEMENT or
	// ANTENNA@PLACEMENT:BEARING. nil: none.
	Confirm []string
	Setups  []survey.Setup // that Confirm may name, with other bearings as well
	Log     *slog.Logger
}

// Change runs the program, and the one that confirms. The error wraps
// capture.ErrNotReached and quotes what the program said last.
func (c *Command) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	var said tail
	if err := c.run(ctx, c.Argv, asked, &said, &said); err != nil {
		return capture.Reached{}, err
	}
	reached := capture.Reached{Setup: asked, Said: said.line()}
	if len(c.Confirm) > 0 {
		var out, errOut tail
		if err := c.run(ctx, c.Confirm, asked, &out, &errOut); err != nil {
			return capture.Reached{}, err
		}
		confirmed, err := c.confirmed(asked, out.line())
		if err != nil {
			return capture.Reached{}, err
		}
		reached.Setup, reached.Bearing = confirmed.Setup, confirmed.Bearing
		if reached.Setup != asked {
			reached.Said = fmt.Sprintf("%s says that %q is in place", c.Confirm[0], out.line())
		}
	}
	c.Log.Debug("antenna changed", "setup", reached.Setup.String(), "said", reached.Said)
	return reached, nil
}

// run starts a program and keeps the end of what it said. The error quotes its
// last line.
func (c *Command) run(ctx context.Context, argv []string, asked survey.Setup, out, errOut *tail) error {
	limited, cancel := context.WithTimeout(ctx, c.TimeOut)
	defer cancel()
	bearing := ""
	if asked.Bearing.Known {
		bearing = strconv.FormatFloat(asked.Bearing.Deg, 'f', -1, 64)
	}
	args := append(slices.Clone(argv[1:]), asked.Antenna, asked.Placement, bearing)
	cmd := exec.CommandContext(limited, argv[0], args...)
	cmd.Env = append(os.Environ(), "NIGHTFLOOR_ANTENNA="+asked.Antenna, "NIGHTFLOOR_PLACEMENT="+asked.Placement, "NIGHTFLOOR_BEARING="+bearing)
	cmd.WaitDelay = time.Second // a child of it may hold its output open
	killGroup(cmd)
	cmd.Stdout, cmd.Stderr = out, errOut
	err := cmd.Run()
	said := quoted(cmp.Or(errOut.line(), out.line()))
	switch {
	// A program may leave another running that holds a line of the switch, and
	// its own output with it.
	case err == nil, errors.Is(err, exec.ErrWaitDelay) && cmd.ProcessState.Success():
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	case limited.Err() != nil:
		return fmt.Errorf("%w: %s did not end within %v%s; run it by hand to see why", capture.ErrNotReached, argv[0], c.TimeOut, said)
	}
	return fmt.Errorf("%w: %s: %w%s; run it by hand to see why", capture.ErrNotReached, argv[0], err, said)
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
