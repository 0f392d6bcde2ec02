package rtlsdrtest

import (
	"context"
	"fmt"
	"time"

	"github.com/ebitengine/purego"
)

// A Clock is the time that the stand-in goes by, driven by whoever waits on it: it
// stands still while nobody does. So no test depends on how fast the host is. There
// is one time for a process.
type Clock struct {
	begun time.Time // the wall clock's, at 0
	since int64     // the stand-in's, ns, at 0
	now   func() int64
	run   func(until int64) int32
}

// NewClock takes the stand-in's time into the process's hands. The process must be
// one that finds the stand-in, see Build.
func NewClock() (*Clock, error) {
	library, err := openLibrary(libraryName())
	if err != nil {
		return nil, fmt.Errorf("open the stand-in: %w", err)
	}
	c := &Clock{begun: time.Now()}
	purego.RegisterLibFunc(&c.now, library, "standin_now")
	purego.RegisterLibFunc(&c.run, library, "standin_run")
	c.since = c.now()
	return c, nil
}

// Elapsed gives the time since NewClock.
func (c *Clock) Elapsed() time.Duration { return time.Duration(c.now() - c.since) }

// Now gives the time of day: that at NewClock, and what has elapsed.
func (c *Clock) Now() time.Time { return c.begun.Add(c.Elapsed()) }

// Sleep waits for d, or until the context ends.
func (c *Clock) Sleep(ctx context.Context, d time.Duration) error {
	_, err := c.Wait(ctx, nil, d)
	return err
}

// Wait waits until something comes, for d at most, and tells whether it did.
func (c *Clock) Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error) {
	for end := c.now() + int64(d); ; {
		select {
		case <-came:
			return true, nil
		case <-ctx.Done():
			return false, ctx.Err()
		default:
		}
		if c.now() >= end {
			return false, nil
		}
		if c.run(end) == 0 { // a stream is about to begin or to end, in real time
			time.Sleep(50 * time.Microsecond)
		}
	}
}
