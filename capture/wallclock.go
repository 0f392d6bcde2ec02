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
func (c WallClock) Sleep(ctx context.Context, d time.Duration) error {
	_, err := c.Wait(ctx, nil, d)
	return err
}

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
