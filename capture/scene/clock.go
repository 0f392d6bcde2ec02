package scene

import (
	"context"
	"math"
	"sync/atomic"
	"time"
)

// A sceneTime is the scene's time: samples delivered, and time slept through.
type sceneTime struct {
	start time.Time
	rate  float64
	read  atomic.Int64 // samples
	slept atomic.Int64 // nanoseconds
}

// index gives the number of samples since the start, slept through or read.
func (p *sceneTime) index() int64 {
	slept := time.Duration(p.slept.Load()).Seconds()
	return p.read.Load() + int64(math.Round(slept*p.rate))
}

func (p *sceneTime) now() time.Time {
	read := time.Duration(math.Round(float64(p.read.Load()) / p.rate * 1e9))
	return p.start.Add(read + time.Duration(p.slept.Load()))
}

// Now gives the scene's time.
func (h *House) Now() time.Time { return h.time.now() }

// Sleep lets time pass in the scene and returns at once. The samples of that
// time go by unasked for; they do not count as dropped.
func (h *House) Sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if d > 0 {
		h.time.slept.Add(int64(d))
		h.slept = true
	}
	return nil
}
