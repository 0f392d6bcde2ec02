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
	run   func(until int64) int32

	mu     sync.Mutex
	leapt  time.Duration
	events []event
}

// An event is what is to be done at a moment.
type event struct {
	at time.Duration
	do func()
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
func (c *Clock) Elapsed() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.elapsed()
}

func (c *Clock) elapsed() time.Duration { return time.Duration(c.now()-c.since) + c.leapt }

// Now gives the time of day: that at NewClock, and what has elapsed.
func (c *Clock) Now() time.Time { return c.begun.Add(c.Elapsed()) }

// Sleep waits for d, or until the context ends.
func (c *Clock) Sleep(ctx context.Context, d time.Duration) error {
	_, err := c.Wait(ctx, nil, d)
	return err
}

// Wait waits until something comes, for d at most, and tells whether it did.
func (c *Clock) Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error) {
	end := c.Elapsed() + d
	for {
		select {
		case <-came:
			return true, nil
		case <-ctx.Done():
			return false, ctx.Err()
		default:
		}
		if c.Elapsed() >= end {
			return false, nil
		}
		c.step(end)
	}
}

// step lets the time go on to a moment, to the next event or until a buffer came,
// whichever is first.
func (c *Clock) step(end time.Duration) {
	c.mu.Lock()
	for _, e := range c.events {
		end = min(end, e.at)
	}
	until := c.since + int64(end-c.leapt)
	c.mu.Unlock()
	if c.run(until) == 0 { // a stream is about to begin or to end, in real time
		time.Sleep(50 * time.Microsecond)
	}
	c.happen()
}

// happen does what is due.
func (c *Clock) happen() {
	c.mu.Lock()
	var due []event
	now := c.elapsed()
	later := c.events[:0]
	for _, e := range c.events {
		if e.at <= now {
			due = append(due, e)
		} else {
			later = append(later, e)
		}
	}
	c.events = later
	c.mu.Unlock()
	for _, e := range due {
		e.do()
	}
}

// After has something done when so much time has gone by, while whoever waits is
// made to wait.
func (c *Clock) After(d time.Duration, do func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.events = append(c.events, event{c.elapsed() + d, do})
}

// Forget drops what After was to have done.
func (c *Clock) Forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.events = nil
}

// Leap lets time go by in which the stand-in does nothing, as when the host sleeps.
func (c *Clock) Leap(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.leapt += d
}
