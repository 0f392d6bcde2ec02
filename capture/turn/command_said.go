package turn

import (
	"fmt"
	"math"
	"strings"

	"nightfloor/capture"
	"nightfloor/survey"
)

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

// A tail keeps the end of what is written to it.
type tail struct{ kept []byte }

// longestTail is what a tail keeps, in bytes: a program may print without end.
const longestTail = 4 << 10

// Write keeps the end.
func (t *tail) Write(p []byte) (int, error) {
	n := len(p)
	p = p[max(0, n-longestTail):]
	drop := max(0, len(t.kept)+len(p)-longestTail)
	t.kept = append(t.kept[:copy(t.kept, t.kept[drop:])], p...)
	return n, nil
}

// line gives the last line, not too long.
func (t *tail) line() string {
	lines := strings.Split(strings.TrimSpace(string(t.kept)), "\n")
	last := strings.TrimSpace(lines[len(lines)-1])
	const most = 200
	if len(last) > most {
		last = strings.ToValidUTF8(last[:most], "") + "…"
	}
	return last
}
