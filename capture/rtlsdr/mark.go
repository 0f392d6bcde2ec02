package rtlsdr

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"nightfloor/capture"
)

// settling is how long tuner and filters may take after a change.
const settling = 3 * time.Millisecond

// longestQueue is the longest that samples are known to wait in any driver's
// queue (PHYSICS.md 7.1), with a hundredth for the clock's error.
const longestQueue = 1717 * time.Millisecond

// A sampleClock tells when samples were digitised: one is known, the others follow by
// their rate.
type sampleClock struct {
	index int64
	at    time.Duration // when that sample was, by Clock.Elapsed
	rate  float64       // samples a second
}

// digitisedAt gives the moment at which a sample was digitised.
func (c sampleClock) digitisedAt(index int64) time.Duration {
	return c.at + time.Duration(float64(index-c.index)/c.rate*float64(time.Second))
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
	r.stream.seek(true)
	m := marking{switched: r.clock.Elapsed()}
	if err := r.setTestMode(ctx, "on", 1); err != nil {
		return err
	}
	_ = r.clock.Sleep(context.WithoutCancel(ctx), time.Millisecond) // 2,400 samples
	if err := r.setTestMode(ctx, "off", 0); err != nil {
		return err
	}
	m.longest = r.stream.sought().seen + 2*r.stream.samples(longestQueue)
	r.marking = &m
	return r.awaitMark(ctx)
}

func (r *Receiver) setTestMode(ctx context.Context, word string, on int32) error {
	return r.order(ctx, "switch the test pattern "+word, func() int32 { return r.library.SetTestMode(r.device, on) })
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

// marked ends a mark.
func (r *Receiver) marked(found bool) {
	r.marking = nil
	r.stream.seek(false)
	r.missing.note(found, r.clock.Elapsed(), r.info.URI)
}

// missingMarks says in the log when counters do not show, and when they show again: where samples are
// lost all the time, one may come and the next not.
type missingMarks struct {
	log         *slog.Logger
	away, again bool          // said
	since       time.Duration // when it was said last
	times       int           // that it stayed away since then
}

// missingEvery is how often counters that come and go are told of at the most: as often as a log of a
// survey tells how far it is (TestTestPatternNowAndThen).
const missingEvery = time.Hour

func (m *missingMarks) note(found bool, now time.Duration, receiver string) {
	switch {
	case found && (!m.away || m.again):
		return
	case found:
		m.again = true
		m.log.Warn("the age of samples can be found out again", "receiver", receiver)
		return
	}
	if m.times++; m.away && !m.again || m.away && now-m.since < missingEvery {
		return
	}
	const what = "the age of samples cannot be found out; each retune costs as much as the longest queue"
	if m.away {
		m.log.Warn("again and again "+what, "receiver", receiver, "times", m.times)
	} else {
		m.log.Warn(what, "receiver", receiver, "queue", longestQueue)
	}
	m.away, m.since, m.times = true, now, 0
}

// patternLength is how many bytes that go up by one, one after the other, make
// the counter pattern: noise does so once in 256^63 tries.
const patternLength = 64

// A pattern follows the stream until the counter that the chip can put in place
// of samples has come and gone. Counts are of bytes since the stream's start.
type pattern struct {
	last  byte
	run   int   // bytes up to now that go up by one
	seen  int64 // how far the stream was followed
	begin int64 // the counter's first byte; −1: it has not come
	end   int64 // the first byte after it, as far as it was followed
}

// patternFrom gives one that follows the stream from a byte on.
func patternFrom(at int64) *pattern { return &pattern{seen: at, begin: -1} }

// see follows the stream through b.
func (p *pattern) see(b []byte) {
	last, run := p.last, p.run
	for i, c := range b {
		if c != last+1 {
			run = 0
		}
		last = c
		if run++; run < patternLength {
			continue
		}
		p.end = p.seen + int64(i) + 1
		if p.begin < 0 {
			p.begin = p.end - patternLength
		}
	}
	p.last, p.run = last, run
	p.seen += int64(len(b))
}

// come tells whether the counter has come, gone whether so many bytes without it
// have come after it. Where samples were lost within it, it comes in pieces.
func (p pattern) come() bool            { return p.begin >= 0 }
func (p pattern) gone(quiet int64) bool { return p.come() && p.seen-p.end >= quiet }
