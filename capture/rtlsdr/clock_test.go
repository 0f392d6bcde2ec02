package rtlsdr

import (
	"context"
	"sync"
	"time"

	"nightfloor/capture/rtlsdr/rtlsdrtest"
)

// A scriptedClock is the stand-in's clock, by which things happen while whoever waits is
// made to wait.
type scriptedClock struct {
	*rtlsdrtest.Clock

	mu     sync.Mutex
	leapt  time.Duration
	events []event
}

// An event is what is to be done at a moment.
type event struct {
	at time.Duration
	do func()
}

func (c *scriptedClock) Elapsed() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.Clock.Elapsed() + c.leapt
}

func (c *scriptedClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.Clock.Now().Add(c.leapt)
}

func (c *scriptedClock) Sleep(ctx context.Context, d time.Duration) error {
	_, err := c.Wait(ctx, nil, d)
	return err
}

func (c *scriptedClock) Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error) {
	for end := c.Elapsed() + d; ; {
		arrived, err := c.Clock.Wait(ctx, came, c.next(end)-c.Elapsed())
		c.happen()
		if arrived || err != nil || c.Elapsed() >= end {
			return arrived, err
		}
	}
}

func (c *scriptedClock) Await(ctx context.Context, done <-chan struct{}, d time.Duration) (bool, error) {
	return c.AwaitBy(done, func() (bool, error) { return c.Wait(ctx, done, d) })
}

// next gives the moment of the next event, that of end if none comes before.
func (c *scriptedClock) next(end time.Duration) time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, e := range c.events {
		end = min(end, e.at)
	}
	return end
}

// happen does what is due.
func (c *scriptedClock) happen() {
	now := c.Elapsed()
	c.mu.Lock()
	var due, later []event
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

// after has something done when so much time has gone by.
func (c *scriptedClock) after(d time.Duration, do func()) {
	at := c.Elapsed() + d
	c.mu.Lock()
	defer c.mu.Unlock()
	c.events = append(c.events, event{at, do})
}

// forget drops what was to be done.
func (c *scriptedClock) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.events = nil
}

// leap lets time go by in which the stand-in does nothing, as when the host sleeps.
func (c *scriptedClock) leap(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.leapt += d
}
