package rtlsdrtest

import (
	"context"
	"fmt"
	"sync"
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
	run   func(until int64, alone int32) int32
	hung  func() int32

	mu    sync.Mutex
	given map[<-chan struct{}]bool // calls that were given up, and hang still
}

// NewClock takes the stand-in's time into the process's hands. The process must be
// one that finds the stand-in, see Build.
func NewClock() (*Clock, error) {
	library, err := openLibrary(libraryName())
	if err != nil {
		return nil, fmt.Errorf("open the stand-in: %w", err)
	}
	c := &Clock{begun: time.Now(), given: map[<-chan struct{}]bool{}}
	purego.RegisterLibFunc(&c.now, library, "standin_now")
	purego.RegisterLibFunc(&c.run, library, "standin_run")
	purego.RegisterLibFunc(&c.hung, library, "standin_hung")
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

// Await waits until a call to the driver is done, and tells whether it is. The time stands
// meanwhile; if the stand-in lets a call hang, it goes on, for d at most.
func (c *Clock) Await(ctx context.Context, done <-chan struct{}, d time.Duration) (bool, error) {
	return c.AwaitBy(done, func() (bool, error) { return c.Wait(ctx, done, d) })
}

// AwaitBy is Await for a clock that has a Wait of its own.
func (c *Clock) AwaitBy(done <-chan struct{}, wait func() (bool, error)) (bool, error) {
	for c.hung() <= c.givenUp(done) {
		select {
		case <-done:
			return true, nil
		case <-time.After(20 * time.Microsecond):
		}
	}
	came, err := wait()
	if !came {
		c.mu.Lock()
		c.given[done] = true
		c.mu.Unlock()
		go func() {
			<-done
			c.mu.Lock()
			delete(c.given, done)
			c.mu.Unlock()
		}()
	}
	return came, err
}

// givenUp counts the calls that were given up, but for one.
func (c *Clock) givenUp(but <-chan struct{}) int32 {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := int32(len(c.given))
	if c.given[but] {
		n--
	}
	return n
}

// Wait waits until something comes, for d at most, and tells whether it did.
func (c *Clock) Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error) {
	alone := int32(0)
	if came == nil {
		alone = 1
	}
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
		if c.run(end, alone) == 0 { // a stream is about to begin or to end, in real time
			time.Sleep(50 * time.Microsecond)
		}
	}
}
