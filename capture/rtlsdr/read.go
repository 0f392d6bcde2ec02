package rtlsdr

import (
	"context"
	"errors"
	"fmt"
	"math"
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
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	before, followed := r.stream.delay(arrivalsKept)
	for filled := 0; filled < len(buf); {
		skipped, n := r.stream.copyFrom(r.next, buf[filled:])
		r.next += skipped
		if skipped > 0 && r.going {
			dropped += skipped
		}
		if skipped > 0 && filled > 0 { // buf is to hold an unbroken stretch
			dropped += int64(filled / 2)
			filled = 0
			continue
		}
		r.next += int64(n / 2)
		filled += n
		r.going = r.going || n > 0
		if n > 0 {
			continue
		}
		if err := r.wait(ctx); err != nil {
			return dropped, err
		}
		if !followed {
			before, followed = r.stream.delay(arrivalsKept)
		}
	}
	if !followed {
		return dropped, nil
	}
	lost, err := r.lost(ctx, before)
	return dropped + lost, err
}

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

// lost tells how many samples vanished while a buffer was filled: those by which
// their count has fallen behind the monotonic clock. A host that was busy
// catches up; before a loss is believed, it gets time to.
func (r *Receiver) lost(ctx context.Context, before time.Duration) (int64, error) {
	const patience = 250 * time.Millisecond
	for deadline := time.Now().Add(patience); ; {
		after, ok := r.stream.delay(3)
		late := after - before
		if !ok || late < leastLoss {
			return 0, nil
		}
		if time.Now().After(deadline) {
			r.suspect = true
			r.log.Warn("samples lost", "receiver", r.info.URI, "samples", int64(late.Seconds()*r.stream.rate))
			return int64(math.Round(late.Seconds() * r.stream.rate)), nil
		}
		if err := r.wait(ctx); err != nil {
			return 0, err
		}
	}
}

// longestQueue is the longest that samples are known to wait in any driver's
// queue (trade notes, 7.1).
const longestQueue = 1700 * time.Millisecond

// align finds out which sample belongs to which moment: for an instant the chip
// puts a counter in place of samples, and the one at which the counter begins
// was made when it was switched on. Where no counter comes, samples are taken to
// be as old as they can be.
func (r *Receiver) align(ctx context.Context) error {
	r.lined, r.suspect = time.Now(), false
	from := r.stream.count()
	switched := time.Now()
	if err := failed("switch the test pattern on", r.library.setTestMode(r.device, 1)); err != nil {
		return err
	}
	time.Sleep(time.Millisecond) // 2,400 samples
	if err := failed("switch the test pattern off", r.library.setTestMode(r.device, 0)); err != nil {
		return err
	}
	buf := make([]byte, ringLength/4)
	carry := 0 // bytes at the start of buf that were looked at
	for time.Since(switched) < longestQueue+time.Second {
		skipped, n := r.stream.copyFrom(from, buf[carry:])
		if skipped > 0 {
			carry = 0
			from += skipped
			continue
		}
		if n == 0 {
			if err := r.wait(ctx); err != nil {
				return err
			}
			continue
		}
		seen := buf[:carry+n]
		if at := findPattern(seen); at >= 0 {
			index := from - int64(carry/2) + int64(at/2)
			r.stream.setLine(timeline{index: index, at: switched, rate: r.stream.rate})
			return nil
		}
		carry = copy(buf, seen[max(0, len(seen)-2*patternLength):])
		carry &^= 1
		from += int64(n / 2)
	}
	r.log.Warn("the age of samples could not be found out; each retune costs as much as the longest queue", "receiver", r.info.URI, "queue", longestQueue)
	r.stream.setLine(timeline{index: r.stream.count(), at: time.Now().Add(-longestQueue), rate: r.stream.rate})
	return nil
}
