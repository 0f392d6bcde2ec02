package rtlsdr

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Wherever in a reading samples vanish, it is that reading which is late, and not
// the next; what vanishes before it is not its own. Buffers arrive late at random,
// save that of three in a row one does not.
func TestArrivals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const buffer, loss = 8192, 3500 * time.Microsecond
		lostAt := rapid.IntRange(1, 120).Draw(t, "buffer before which samples vanish")
		first := rapid.Int64Range(50*buffer, 55*buffer).Draw(t, "first")
		end := rapid.Int64Range(80*buffer+1, 85*buffer).Draw(t, "end")
		var a arrivals
		follow := false
		for i := 1; i <= 120; i++ {
			late := time.Duration(0)
			if i%3 != 0 && i != lostAt-1 && i != lostAt {
				late = time.Duration(rapid.Int64Range(0, int64(100*time.Millisecond)).Draw(t, "scatter"))
			}
			if i >= lostAt {
				late += loss
			}
			a.note(arrival{end: int64(i) * buffer, delay: late})
			if !follow && int64(i)*buffer >= first {
				a.follow(first, true)
				follow = true
			}
		}
		got := a.late(end)
		from, to := int64(lostAt-1)*buffer, end // samples before from were there when it happened
		switch {
		case from < first-buffer || from >= to: // ahead of the reading, or after it
			if got != 0 {
				t.Fatalf("%v late; samples vanished at %d, the reading goes from %d to %d", got, from, first, end)
			}
		case from >= first && got < loss:
			t.Fatalf("%v late; %v vanished at %d, the reading goes from %d to %d", got, loss, from, first, end)
		}
	})
}
