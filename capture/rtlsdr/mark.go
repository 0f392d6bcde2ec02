package rtlsdr

import (
	"context"
	"fmt"
	"time"

	"nightfloor/capture"
)

// settling is how long tuner and filters may take after a change.
const settling = 3 * time.Millisecond

// longestQueue is the longest that samples are known to wait in any driver's
// queue (trade notes, 7.1), with a hundredth for the clock's error.
const longestQueue = 1717 * time.Millisecond

// A sampleClock tells when samples were digitised: sample index when Clock.Elapsed
// was at, the others by their rate.
type sampleClock struct {
	index int64
	at    time.Duration
	rate  float64 // samples a second
}

// digitisedAt gives the moment at which a sample was digitised.
func (l sampleClock) digitisedAt(index int64) time.Duration {
	return l.at + time.Duration(float64(index-l.index)/l.rate*float64(time.Second))
}

// A marking is a mark whose counter is on its way through the queue.
type marking struct {
	switched time.Duration // when the counter was switched on
	longest  int64         // bytes by which it comes, if it does
}

// mark finds the first sample that was digitised after the change before it: for
// an instant the chip puts a counter in place of samples, and what comes behind
// it, less the time to settle, was made after the change. That costs the queue,
// which has to be waited for, and some milliseconds. Where no counter comes, as
// much is thrown away as the longest queue holds.
func (r *Receiver) mark(ctx context.Context) error {
	if err := r.awaitMark(ctx); err != nil { // one that was given up: its counter is not this one's
		return err
	}
	r.stream.seek()
	m := marking{switched: r.clock.Elapsed()}
	if err := r.answer("switch the test pattern on", r.library.setTestMode(r.device, 1)); err != nil {
		return err
	}
	_ = r.clock.Sleep(context.WithoutCancel(ctx), time.Millisecond) // 2,400 samples
	if err := r.answer("switch the test pattern off", r.library.setTestMode(r.device, 0)); err != nil {
		return err
	}
	m.longest = 2 * (r.stream.count() + r.stream.samples(longestQueue))
	r.marking = &m
	return r.awaitMark(ctx)
}

// awaitMark waits until the counter of the mark under way has gone by, if one is.
func (r *Receiver) awaitMark(ctx context.Context) error {
	quiet := 2 * r.stream.samples(settling)
	for r.marking != nil {
		p := r.stream.sought()
		switch {
		case p.gone(quiet):
			r.next = (p.end + quiet + 1) / 2
			r.sampleClock = sampleClock{index: p.begin / 2, at: r.marking.switched, rate: r.stream.rate}
			r.marked(true)
		case !p.come() && p.seen >= r.marking.longest:
			r.next = p.seen / 2
			r.sampleClock = sampleClock{index: r.next, at: r.clock.Elapsed(), rate: r.stream.rate}
			r.marked(false)
		case p.seen >= r.marking.longest+2*r.stream.samples(longestQueue):
			return fmt.Errorf("receiver %s: the test pattern does not end: %w", r.info.URI, capture.ErrStuck)
		default:
			if err := r.wait(ctx); err != nil {
				return err
			}
		}
	}
	return nil
}

// marked ends a mark; it logs when the counter no longer shows, or shows again.
func (r *Receiver) marked(found bool) {
	r.marking = nil
	r.stream.found()
	if found != r.markMissing {
		return
	}
	r.markMissing = !found
	if r.markMissing {
		r.log.Warn("the age of samples cannot be found out; each retune costs as much as the longest queue", "receiver", r.info.URI, "queue", longestQueue)
		return
	}
	r.log.Warn("the age of samples can be found out again", "receiver", r.info.URI)
}
