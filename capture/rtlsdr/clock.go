package rtlsdr

import (
	"context"
	"time"

	"nightfloor/capture"
)

// A Clock is the time that a receiver goes by. By Elapsed samples are counted. It
// goes on while the host sleeps, where the system has such a clock: what the dongle
// would have delivered meanwhile is lost.
type Clock interface {
	capture.Clock
	capture.Steady
	// Wait waits until something comes, for d at most, and tells whether it did.
	Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error)
}

// A WallClock is the host's own.
type WallClock struct{ capture.WallClock }

// Wait waits until something comes, for d at most, and tells whether it did.
func (WallClock) Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-came:
		return true, nil
	case <-ctx.Done():
		return false, ctx.Err()
	case <-timer.C:
		return false, nil
	}
}
