package rtlsdr

import (
	"context"
	"math"
	"sync"
	"sync/atomic"
	"time"
	"unsafe"

	"github.com/ebitengine/purego"

	"nightfloor/capture"
)

// Buffers that the driver fills in turn: 12 of 16 KiB are 41 ms at 2.4 MS/s, so
// that a retune costs little.
const (
	driverBuffers = 12
	bufferLength  = 16384 // bytes
)

// ringLength is how many bytes are kept for the reader: 0.2 s at 2.4 MS/s.
const ringLength = 1 << 20

// A stream counts the samples that the driver delivers, and keeps the newest.
type stream struct {
	rate  float64
	clock Clock
	begun time.Duration // by the clock

	mu       sync.Mutex
	ring     [ringLength]byte
	next     int64    // count of bytes delivered since the start
	pattern  *pattern // what is sought; nil: nothing
	arrivals arrivals

	came chan struct{} // a buffer came, or the end
	done chan struct{} // closed when read_async has returned
}

// The driver's callback is one for the process, made once: there can be only
// 2,000. It gets a number as context, never a Go pointer.
var (
	callback   = sync.OnceValue(func() uintptr { return purego.NewCallback(deliver) })
	streams    sync.Map // uintptr → *stream
	lastStream atomic.Uintptr
)

// deliver is called by the driver with a buffer that is valid only until it returns.
func deliver(buf *byte, length uint32, context uintptr) uintptr {
	if s, ok := streams.Load(context); ok && buf != nil && length > 0 {
		s := s.(*stream)
		s.take(unsafe.Slice(buf, length), s.clock.Elapsed())
	}
	return 0
}

// start begins to read; the goroutine ends when the driver says so.
func start(l *library, dev device, rate float64, clock Clock) *stream {
	s := &stream{rate: rate, clock: clock, begun: clock.Elapsed(), came: make(chan struct{}, 1), done: make(chan struct{})}
	key := lastStream.Add(1)
	streams.Store(key, s)
	go func() {
		l.ReadAsync(dev, callback(), key, driverBuffers, bufferLength)
		streams.Delete(key)
		close(s.done)
		s.signal()
	}()
	return s
}

func (s *stream) signal() {
	select {
	case s.came <- struct{}{}:
	default:
	}
}

// take copies a buffer into the ring. It never waits for the reader.
func (s *stream) take(b []byte, now time.Duration) {
	s.mu.Lock()
	if s.pattern != nil {
		s.pattern.see(b)
	}
	for len(b) > 0 {
		n := copy(s.ring[s.next%ringLength:], b)
		s.next += int64(n)
		b = b[n:]
	}
	due := s.begun + time.Duration(float64(s.next/2)/s.rate*float64(time.Second))
	s.arrivals.note(arrival{end: s.next / 2, delay: now - due})
	s.mu.Unlock()
	s.signal()
}

// silence is how long the stream may stand still before it counts as stuck. It
// is counted in steps: while the process was stopped or the host slept, the
// dongle was not silent.
const (
	silence     = 2 * time.Second
	silentSteps = 20
)

// wait blocks until a buffer comes that is not empty. Errors:
// capture.ErrUnplugged once the driver has ended the stream, capture.ErrStuck,
// that of the context.
func (s *stream) wait(ctx context.Context) error {
	for range silentSteps {
		switch came, err := s.clock.Wait(ctx, s.came, silence/silentSteps); {
		case err != nil:
			return err
		case came:
			select {
			case <-s.done:
				s.signal() // for whoever waits next
				return capture.ErrUnplugged
			default:
				return nil
			}
		}
	}
	return capture.ErrStuck
}

// stop asks the driver again and again to end the stream, until it has or the
// time is up: what is asked before it has begun to read it does not hear.
func (s *stream) stop(cancel func(), patience time.Duration) (stopped bool) {
	const step = 10 * time.Millisecond
	for range patience / step {
		cancel()
		if done, _ := s.clock.Wait(context.Background(), s.done, step); done {
			return true
		}
	}
	return false
}

// copyFrom copies what there is from the sample of that count on. What is no
// longer kept is skipped.
func (s *stream) copyFrom(index int64, to []byte) (skipped int64, n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if oldest := (max(0, s.next-ringLength) + 1) / 2; index < oldest {
		skipped, index = oldest-index, oldest
	}
	for at := 2 * index; at < s.next&^1 && n < len(to); {
		from := at % ringLength
		m := copy(to[n:], s.ring[from:min(ringLength, from+s.next&^1-at)])
		n, at = n+m, at+int64(m)
	}
	return skipped, n
}

// samples gives how many samples come in a time.
func (s *stream) samples(d time.Duration) int64 { return int64(math.Ceil(d.Seconds() * s.rate)) }

// seek begins to look for the counter pattern in what comes from now on, or ends that.
func (s *stream) seek(on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.pattern = nil
	if on {
		s.pattern = patternFrom(s.next)
	}
}

// sought gives how far what seek began has come.
func (s *stream) sought() pattern {
	s.mu.Lock()
	defer s.mu.Unlock()
	return *s.pattern
}

// follow begins to follow arrivals from that of the sample counted first on, and
// of the buffer ahead of it where that is asked for.
func (s *stream) follow(first int64, ahead bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.arrivals.follow(first, ahead)
}

// late gives how much later the samples up to the one counted end came than those
// at which follow began.
func (s *stream) late(end int64) time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.arrivals.late(end)
}
