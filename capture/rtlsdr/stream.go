package rtlsdr

import (
	"context"
	"sync"
	"time"

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
	rate float64

	mu       sync.Mutex
	ring     [ringLength]byte
	next     int64 // count of bytes delivered since the start
	line     timeline
	lined    bool
	arrivals arrivals
	ended    bool
	code     int32 // what read_async returned

	came chan struct{} // a buffer came, or the end
	done chan struct{} // closed when read_async has returned
}

// The driver's callback is one for the process, made once: there can be only
// 2,000. It gets a number as context, never a Go pointer.
var (
	callback     = sync.OnceValue(func() uintptr { return purego.NewCallback(deliver) })
	streamsMutex sync.Mutex
	streams      = map[uintptr]*stream{}
	lastStream   uintptr
)

// deliver is called by the driver with a buffer that is valid only until it returns.
func deliver(buf *byte, length uint32, context uintptr) uintptr {
	streamsMutex.Lock()
	s := streams[context]
	streamsMutex.Unlock()
	if s != nil && buf != nil {
		s.take(bytesAt(buf, length), time.Now())
	}
	return 0
}

// start begins to read; the goroutine ends when the driver says so.
func start(l *library, dev device, rate float64) *stream {
	s := &stream{rate: rate, came: make(chan struct{}, 1), done: make(chan struct{})}
	streamsMutex.Lock()
	lastStream++
	key := lastStream
	streams[key] = s
	streamsMutex.Unlock()
	go func() {
		code := l.readAsync(dev, callback(), key, driverBuffers, bufferLength)
		streamsMutex.Lock()
		delete(streams, key)
		streamsMutex.Unlock()
		s.mu.Lock()
		s.ended, s.code = true, code
		s.mu.Unlock()
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
func (s *stream) take(b []byte, now time.Time) {
	s.mu.Lock()
	for len(b) > 0 {
		n := copy(s.ring[s.next%ringLength:], b)
		s.next += int64(n)
		b = b[n:]
	}
	if s.lined {
		s.arrivals.note(now.Sub(s.line.due(s.next / 2)))
	}
	s.mu.Unlock()
	s.signal()
}

// silence is how long the stream may stand still before it counts as stuck.
const silence = 2 * time.Second

// wait blocks until a buffer comes. Errors: capture.ErrUnplugged once the driver
// has ended the stream, capture.ErrStuck, that of the context.
func (s *stream) wait(ctx context.Context) error {
	timer := time.NewTimer(silence)
	defer timer.Stop()
	select {
	case <-s.came:
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return capture.ErrStuck
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ended {
		s.signal() // for whoever waits next
		return capture.ErrUnplugged
	}
	return nil
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

// count gives how many samples have come.
func (s *stream) count() int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.next / 2
}

// setLine begins to follow arrivals against a new timeline.
func (s *stream) setLine(l timeline) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.line, s.lined = l, true
	s.arrivals.reset()
}

// timeline gives what setLine set.
func (s *stream) timeline() timeline {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.line
}

// delay gives how late the last few buffers came against the timeline, at the
// least; ok is false where fewer have come.
func (s *stream) delay(few int) (least time.Duration, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.arrivals.least(few)
}
