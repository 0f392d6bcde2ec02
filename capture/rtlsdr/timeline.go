package rtlsdr

import (
	"math"
	"time"
)

// crystal is how far the dongle's clock may be off, as a share, beyond what is
// corrected for: plain crystals stand tens of ppm off (trade notes, 7.9).
const crystal = 100e-6

// A timeline tells which sample belongs to which moment: the one counted index
// was digitised no earlier than at.
type timeline struct {
	index int64
	at    time.Time
	rate  float64 // samples a second
}

// fresh gives the first sample that was certainly digitised at t or later. The
// clock's error makes it later, the longer after the timeline was taken.
func (l timeline) fresh(t time.Time) int64 {
	return l.index + int64(math.Ceil(t.Sub(l.at).Seconds()*l.rate*(1+crystal)))
}

// due gives the moment at which a sample is digitised by the timeline.
func (l timeline) due(index int64) time.Time {
	return l.at.Add(time.Duration(float64(index-l.index) / l.rate * float64(time.Second)))
}

// patternLength is how many bytes that go up by one, one after the other, make
// the counter pattern: noise does so once in 256^63 tries.
const patternLength = 64

// findPattern gives the index of the byte at which the counter pattern begins in
// b, −1 where it does not.
func findPattern(b []byte) int {
	run := 1
	for i := 1; i < len(b); i++ {
		if b[i] != b[i-1]+1 {
			run = 1
			continue
		}
		if run++; run == patternLength {
			return i + 1 - patternLength
		}
	}
	return -1
}

// An arrivals follows how late buffers come against a timeline. A single one
// may be late for want of a processor; the least delay of some in a row is that
// of the queue, and it grows only if samples are lost.
type arrivals struct {
	delays [arrivalsKept]time.Duration
	n      int
}

const arrivalsKept = 16

func (a *arrivals) note(delay time.Duration) {
	a.delays[a.n%arrivalsKept] = delay
	a.n++
}

func (a *arrivals) reset() { a.n = 0 }

// least gives the least delay of the last few buffers; ok is false where fewer
// have come.
func (a *arrivals) least(few int) (least time.Duration, ok bool) {
	if a.n < few {
		return 0, false
	}
	least = math.MaxInt64
	for i := a.n - few; i < a.n; i++ {
		least = min(least, a.delays[i%arrivalsKept])
	}
	return least, true
}
