//go:build !linux

package capture

import "time"

// Elapsed gives the time since the program's start by the monotonic clock; while
// the host sleeps that may stand still, which then looks like a step.
func (WallClock) Elapsed() time.Duration { return time.Since(programStart) }
