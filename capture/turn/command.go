// Package turn changes antennas: it puts a setup in place and says what was
// reached.
package turn

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
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
	// Confirm is a program that gets the same and prints on its last line what is
	// in place, as ANTENNA, ANTENNA@PLACEMENT or ANTENNA@PLACEMENT:BEARING. nil:
	// none.
	Confirm []string
	Setups  []survey.Setup // that Confirm may name
	Log     *slog.Logger
}

// Change runs the program, and the one that confirms. The error wraps
// capture.ErrNotReached and quotes what the program said last.
func (c *Command) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	said, err := c.run(ctx, c.Argv, asked)
	if err != nil {
		return capture.Reached{}, err
	}
	reached := capture.Reached{Setup: asked, Said: said}
	if len(c.Confirm) > 0 {
		if said, err = c.run(ctx, c.Confirm, asked); err != nil {
			return capture.Reached{}, err
		}
		if reached.Setup, err = c.confirmed(asked, said); err != nil {
			return capture.Reached{}, err
		}
		if reached.Setup != asked {
			reached.Said = fmt.Sprintf("%s says that %q is in place", c.Confirm[0], said)
		}
	}
	c.Log.Debug("antenna changed", "setup", reached.Setup.String(), "said", reached.Said)
	return reached, nil
}

// run starts a program and gives the last line of what it said.
func (c *Command) run(ctx context.Context, argv []string, asked survey.Setup) (said string, err error) {
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
	killWhole(cmd)
	output, err := cmd.CombinedOutput()
	said = lastLine(string(output))
	switch {
	// A program may leave another running that holds a line of the switch, and
	// its own output with it.
	case err == nil, errors.Is(err, exec.ErrWaitDelay) && cmd.ProcessState.Success():
		return said, nil
	case ctx.Err() != nil:
		return "", ctx.Err()
	case limited.Err() != nil:
		return "", fmt.Errorf("%w: %s did not end within %v%s; run it by hand to see why", capture.ErrNotReached, argv[0], c.TimeOut, quoted(said))
	}
	return "", fmt.Errorf("%w: %s: %w%s; run it by hand to see why", capture.ErrNotReached, argv[0], err, quoted(said))
}

// confirmed finds the setup that a program says is in place.
func (c *Command) confirmed(asked survey.Setup, said string) (survey.Setup, error) {
	names := func(s survey.Setup) bool {
		return said == s.Antenna || said == s.Antenna+"@"+s.Placement || said == s.String()
	}
	if names(asked) {
		return asked, nil
	}
	var found []survey.Setup
	for _, s := range c.Setups {
		if names(s) {
			found = append(found, s)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return survey.Setup{}, fmt.Errorf("%w: %s says that %q is in place, which is no setup of the plan; it must print the antenna, or ANTENNA@PLACEMENT:BEARING, on its last line", capture.ErrNotReached, c.Confirm[0], said)
	}
	return survey.Setup{}, fmt.Errorf("%w: %s says that %q is in place, which %d setups of the plan may be; let it print ANTENNA@PLACEMENT:BEARING", capture.ErrNotReached, c.Confirm[0], said, len(found))
}

// lastLine gives the last line of what a program said, not too long.
func lastLine(said string) string {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	last := strings.TrimSpace(lines[len(lines)-1])
	const most = 200
	if len(last) > most {
		last = strings.ToValidUTF8(last[:most], "") + "…"
	}
	return last
}

// quoted puts what a program said into a message, "" for nothing.
func quoted(said string) string {
	if said == "" {
		return ""
	}
	return fmt.Sprintf(" (it said %q)", said)
}

// Only is the changer of a plan with one setup: it is in place.
type Only struct{ Setup survey.Setup }

// Change succeeds for the one setup.
func (o Only) Change(_ context.Context, asked survey.Setup) (capture.Reached, error) {
	if asked != o.Setup {
		return capture.Reached{}, fmt.Errorf("%w: nothing here changes antennas; add [change] to the plan", capture.ErrNotReached)
	}
	return capture.Reached{Setup: asked}, nil
}
