package capture

import (
	"time"

	"golang.org/x/sys/unix"
)

// Elapsed gives the time since the host's start, its sleep included, which
// nobody sets (clock_gettime(2), CLOCK_BOOTTIME).
func (WallClock) Elapsed() time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return time.Since(programStart)
	}
	return time.Duration(t.Nano())
}
