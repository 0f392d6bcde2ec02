package capture

import (
	"context"
	"time"
)

// A WallClock is the host's own. Its times carry the monotonic clock beside the
// wall clock, so that differences are right whatever the wall clock does.
type WallClock struct{}

var (
	_ Clock  = WallClock{}
	_ Steady = WallClock{}
)

var programStart = time.Now()

// Now gives the time.
func (WallClock) Now() time.Time { return time.Now() }

// Sleep waits for d, or until the context ends.
func (WallClock) Sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
