package rtlsdr

import (
	"context"
	"errors"
	"fmt"
	"time"

	"nightfloor/capture"
)

// Read fills buf with what was digitised after the last change of tuning or
// gain; without one in between it goes on where the Read before ended. dropped
// counts samples that were lost within or, without a change, before buf.
// Errors: capture.ErrUnplugged, capture.ErrStuck, that of the context.
func (r *Receiver) Read(ctx context.Context, buf []byte) (dropped int64, err error) {
	if r.closed {
		return 0, errClosed
	}
	if err := ctx.Err(); err != nil || len(buf) == 0 {
		return 0, err
	}
	fresh := r.changed
	if fresh {
		if err := r.mark(ctx); err != nil {
			return 0, err
		}
		r.changed = false
	}
	first := r.next
	r.stream.follow(first, fresh)
	for filled := 0; filled < len(buf); {
		skipped, n := r.stream.copyFrom(r.next, buf[filled:])
		switch {
		case skipped > 0: // buf is to hold an unbroken stretch
			if !fresh || filled > 0 {
				dropped += skipped + int64(filled/2)
			}
			r.next += skipped
			first, filled = r.next, 0
			r.stream.follow(first, false)
		case n > 0:
			r.next += int64(n / 2)
			filled += n
		default:
			if err := r.wait(ctx); err != nil {
				return dropped, err
			}
		}
	}
	lost, err := r.lost(ctx, first)
	r.begun = r.clock.Now().Add(r.sampleClock.digitisedAt(first) - r.clock.Elapsed())
	r.sampleClock.at += time.Duration(float64(lost) / r.sampleClock.rate * float64(time.Second))
	return dropped + lost, err
}

// Begun gives the moment at which the first sample of the last Read was
// digitised; where the driver's test pattern does not show, that at which it
// came, up to 1.7 s later.
func (r *Receiver) Begun() time.Time { return r.begun }

// wait waits for a buffer.
func (r *Receiver) wait(ctx context.Context) error {
	err := r.stream.wait(ctx)
	switch {
	case errors.Is(err, capture.ErrUnplugged):
		return fmt.Errorf("receiver %s: %w", r.info.URI, err)
	case errors.Is(err, capture.ErrStuck):
		return fmt.Errorf("receiver %s: %w; plug it out and in again if it stays so", r.info.URI, err)
	}
	return err
}

// A loss of less than this hides in the scatter of arrivals.
const leastLoss = 2 * time.Millisecond

// mostClockError is how far the dongle's clock may be off, as a share, beyond what is
// corrected for: plain crystals stand tens of ppm off (PHYSICS.md 7.7).
const mostClockError = 100e-6

// lost tells how many samples vanished while a buffer was filled, from the
// sample counted first up to the next: those by which their count has fallen
// behind the clock. A host that was busy catches up; before a loss is believed,
// it gets time to.
func (r *Receiver) lost(ctx context.Context, first int64) (int64, error) {
	const patience = 250 * time.Millisecond
	least := leastLoss + time.Duration(mostClockError*float64(r.next-first)/r.stream.rate*float64(time.Second))
	for deadline := r.clock.Elapsed() + patience; ; {
		late := r.stream.late(r.next)
		if late < least {
			return 0, nil
		}
		if r.clock.Elapsed() > deadline {
			lost := r.stream.samples(late)
			r.log.Warn("samples lost: USB or the host was late; give the dongle a port of its own, and the host less to do", "receiver", r.info.URI, "samples", lost)
			return lost, nil
		}
		if err := r.wait(ctx); err != nil {
			return 0, err
		}
	}
}
