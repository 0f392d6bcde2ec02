package rtlsdr

import (
	"math"
	"time"
)

// An arrivals follows how late buffers come, against a clock that counts samples at their
// nominal rate. A single buffer may be late because the host is busy; the least delay of
// several is that of the queue, and it grows only if samples are lost.
type arrivals struct {
	kept       [arrivalsKept]arrival // the newest, in turn
	n          int
	from       int64 // buffers that end before this sample are not followed
	leastDelay time.Duration
}

// An arrival is that of a buffer.
type arrival struct {
	end   int64 // count of the samples up to its end
	delay time.Duration
}

// arrivalsKept buffers of full length are 0.9 s at 2.4 MS/s.
const arrivalsKept = 256

func (a *arrivals) note(came arrival) {
	a.kept[a.n%arrivalsKept] = came
	a.n++
	if came.end >= a.from {
		a.leastDelay = min(a.leastDelay, came.delay)
	}
}

// follow begins anew, with the buffer that brought the sample counted first, or
// with the one ahead of it.
func (a *arrivals) follow(first int64, ahead bool) {
	if ahead {
		first = a.before(first)
	}
	a.from, a.leastDelay = first, a.leastFrom(first)
}

// before gives the end of the last buffer that ended at or before a sample, that
// sample itself where none is kept.
func (a *arrivals) before(index int64) int64 {
	for i := a.n - 1; i >= max(0, a.n-arrivalsKept); i-- {
		if end := a.kept[i%arrivalsKept].end; end <= index {
			return end
		}
	}
	return index
}

// leastFrom gives the least delay of the buffers that end at a sample or after it.
func (a *arrivals) leastFrom(index int64) time.Duration {
	least := time.Duration(math.MaxInt64)
	for i := a.n - 1; i >= max(0, a.n-arrivalsKept) && a.kept[i%arrivalsKept].end >= index; i-- {
		least = min(least, a.kept[i%arrivalsKept].delay)
	}
	return least
}

// late gives by how much the buffers from the one with sample end on were late, at least,
// compared with those that are followed. Once one of them is not late, nothing was lost
// up to that sample.
func (a *arrivals) late(end int64) time.Duration { return a.leastFrom(end) - a.leastDelay }
