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
// NIGHTFLOOR_BEARING. Exit status 0 says that the setup is in place.
type Command struct {
	Argv    []string
	TimeOut time.Duration
	Log     *slog.Logger
}

// Change runs the program. The error wraps capture.ErrNotReached and quotes what the
// program said last.
func (c *Command) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	limited, cancel := context.WithTimeout(ctx, c.TimeOut)
	defer cancel()
	bearing := ""
	if asked.Bearing.Known {
		bearing = strconv.FormatFloat(asked.Bearing.Deg, 'f', -1, 64)
	}
	args := append(append([]string{}, c.Argv[1:]...), asked.Antenna, asked.Placement, bearing)
	cmd := exec.CommandContext(limited, c.Argv[0], args...)
	cmd.Env = append(os.Environ(), "NIGHTFLOOR_ANTENNA="+asked.Antenna, "NIGHTFLOOR_PLACEMENT="+asked.Placement, "NIGHTFLOOR_BEARING="+bearing)
	cmd.WaitDelay = time.Second // a child of it may hold its output open
	said, err := cmd.CombinedOutput()
	text := lastLine(string(said))
	switch {
	// A program may leave another running that holds a line of the switch, and
	// its own output with it.
	case err == nil, errors.Is(err, exec.ErrWaitDelay) && cmd.ProcessState.Success():
		c.Log.Debug("antenna changed", "setup", asked.String(), "said", text)
		return capture.Reached{Setup: asked}, nil
	case ctx.Err() != nil:
		return capture.Reached{}, ctx.Err()
	case limited.Err() != nil:
		return capture.Reached{}, fmt.Errorf("%w: %s did not end within %v%s; run it by hand to see why", capture.ErrNotReached, c.Argv[0], c.TimeOut, text)
	}
	return capture.Reached{}, fmt.Errorf("%w: %s: %w%s; run it by hand to see why", capture.ErrNotReached, c.Argv[0], err, text)
}

// lastLine quotes the last line of what a program said, "" for nothing.
func lastLine(said string) string {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	last := strings.TrimSpace(lines[len(lines)-1])
	if last == "" {
		return ""
	}
	const most = 200
	if len(last) > most {
		last = last[:most] + "…"
	}
	return fmt.Sprintf(" (it said %q)", last)
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
