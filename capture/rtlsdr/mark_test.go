package rtlsdr

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A station that fills the converter, at 6 MHz; at 9 MHz there is nothing.
var loneStation = []string{"carrier 6000000 -10", "noise -200", "figure 0"}

// stale tells whether what was read at 9 MHz holds any of the station at 6 MHz.
func stale(iq []byte) bool { return rms(iq) > -45 }

// A queue that grows in the middle of a survey, or shrinks, leaves nothing of one
// tuning in the readings of the next.
func TestQueueThatGrows(t *testing.T) {
	standIn(t, append(loneStation, "queue 0.025")...)
	r := open(t, Options{FrontEnd: direct})
	for _, queue := range []float64{0.025, 1.7, 0.3} {
		standIn(t, append(loneStation, fmt.Sprintf("queue %g", queue))...)
		tune(t, r, 6.1e6)
		if iq, _ := read(t, r, 1<<14); rms(iq) < -11 {
			t.Errorf("queue of %g s: %.1f dBFS at 6.1 MHz", queue, rms(iq))
		}
		tune(t, r, 9e6)
		if iq, _ := read(t, r, 1<<14); stale(iq) {
			t.Errorf("queue of %g s: %.1f dBFS at 9 MHz", queue, rms(iq))
		}
	}
}

// Where the driver's counter does not come the longest queue is waited for, which
// is said once, as is that it comes again.
func TestWithoutTestPattern(t *testing.T) {
	standIn(t, append(loneStation, "queue 1.6")...)
	var said bytes.Buffer
	r := open(t, Options{FrontEnd: direct, Log: slog.New(slog.NewTextHandler(&said, nil))})
	has := r.library.SetTestMode
	r.library.SetTestMode = func(device, int32) int32 { return 0 }
	tune(t, r, 6.1e6)
	read(t, r, 1<<14)
	tune(t, r, 9e6)
	if iq, _ := read(t, r, 1<<14); stale(iq) {
		t.Errorf("%.1f dBFS after the retune", rms(iq))
	}
	if n := strings.Count(said.String(), "cannot be found out"); n != 1 || strings.Contains(said.String(), "again") {
		t.Errorf("said %d times, want once:\n%s", n, said.String())
	}
	r.library.SetTestMode = has
	for range 2 {
		tune(t, r, 6.1e6)
		read(t, r, 100)
	}
	if strings.Count(said.String(), "can be found out again") != 1 {
		t.Errorf("not said, or not once, that it is over:\n%s", said.String())
	}
}

// A counter that comes and goes every other second is said when it first stays away and when it first
// comes back, then once an hour, with how often it stayed away.
func TestTestPatternNowAndThen(t *testing.T) {
	var said bytes.Buffer
	m := missingMarks{log: slog.New(slog.NewTextHandler(&said, nil))}
	for second := range 3*3600 + 10 {
		m.note(second%2 == 0, time.Duration(second)*time.Second, "rtlsdr:")
	}
	// Seconds 1, 3, … 3601: the first is said at once, the other 1800 an hour later.
	if n := strings.Count(said.String(), "level=WARN"); n != 5 || strings.Count(said.String(), "times=1800") != 3 {
		t.Errorf("%d lines in three hours, want 5, three of 1800 times:\n%.3000s", n, said.String())
	}
}

// No byte of the counter reaches a reading, whatever befalls it on its way:
// short buffers, a slow stream, samples lost about it.
func TestCounterStaysOut(t *testing.T) {
	for _, test := range []struct {
		rate  survey.Hz
		lines []string
	}{{2.4e6, nil}, {2.4e6, []string{"short_reads 1", "queue 0.02"}}, {250e3, []string{"queue 0.02"}}} {
		lines := append([]string{"noise -100"}, test.lines...)
		standIn(t, lines...)
		r := open(t, Options{Rate: test.rate, FrontEnd: direct})
		begun := clock.Elapsed()
		tune(t, r, 6e6)
		read(t, r, 2000)
		took := clock.Elapsed() - begun
		const losses = 15 // spread over the time that a retune and a reading take
		for i := range losses {
			tune(t, r, 6e6)
			lost := false
			clock.after(took*time.Duration(i)/losses, func() {
				standIn(t, append(lines, fmt.Sprintf("lose %d", 700+i))...)
				lost = true
			})
			for first := true; first || !lost; first = false {
				iq, _ := read(t, r, 2000)
				// Noise of some two codes does not rise by 16 of them.
				if run := longestRun(iq); run > 16 {
					t.Errorf("%v samples/s, %v: %d bytes that go up by one", float64(test.rate), lines, run)
				}
			}
		}
		r.Close()
	}
}

// longestRun gives how many bytes at the most go up by one, one after the other.
func longestRun(b []byte) (longest int) {
	run := 1
	for i := 1; i < len(b); i++ {
		if run++; b[i] != b[i-1]+1 {
			run = 1
		}
		longest = max(longest, run)
	}
	return longest
}

// The counter of a mark that was given up is not taken for that of the next.
func TestMarkGivenUp(t *testing.T) {
	standIn(t, append(loneStation, "queue 0.5")...)
	r := open(t, Options{FrontEnd: direct})
	tune(t, r, 6.1e6)
	ctx, cancel := context.WithCancel(t.Context())
	clock.after(250*time.Millisecond, cancel)
	if _, err := r.Read(ctx, make([]byte, 1<<15)); !errors.Is(err, context.Canceled) {
		t.Fatalf("read with half a queue's time: %v", err)
	}
	tune(t, r, 9e6)
	if iq, _ := read(t, r, 1<<14); stale(iq) {
		t.Errorf("%.1f dBFS after the retune", rms(iq))
	}
}

// A counter that does not end is no reading.
func TestCounterThatDoesNotEnd(t *testing.T) {
	standIn(t)
	r := open(t, Options{Rate: 250e3, FrontEnd: direct})
	set := r.library.SetTestMode
	r.library.SetTestMode = func(d device, on int32) int32 { return set(d, 1) }
	tune(t, r, 6e6)
	if _, err := r.Read(t.Context(), make([]byte, 100)); !errors.Is(err, capture.ErrStuck) || !strings.Contains(err.Error(), "does not end") {
		t.Errorf("%v", err)
	}
}

// Begun is when the first sample was made: not before the order to tune, and so
// long before the last was there that all of them and the queue fit in between.
func TestBegun(t *testing.T) {
	for _, queue := range []time.Duration{0, 300 * time.Millisecond, 1500 * time.Millisecond} {
		standIn(t, fmt.Sprintf("queue %g", queue.Seconds()))
		r := open(t, Options{FrontEnd: direct})
		asked := clock.Now()
		tune(t, r, 6e6)
		const n = 1 << 18
		length := n * time.Second / 2400000
		read(t, r, n)
		first := r.Begun()
		if first.Before(asked) || first.Add(length+queue).After(clock.Now()) {
			t.Errorf("queue of %v: begun %v after the order, %v before the end", queue, first.Sub(asked), clock.Now().Sub(first))
		}
		read(t, r, n)
		if off := r.Begun().Sub(first) - length; off.Abs() > time.Millisecond {
			t.Errorf("queue of %v: the reading that goes on begins %v off the end of the first", queue, off)
		}
		standIn(t, fmt.Sprintf("queue %g", queue.Seconds()), "lose 480000") // 0.2 s of them
		read(t, r, n)
		first = r.Begun()
		_, more := read(t, r, n) // while a loss was made sure of, no room was left for some
		if off := r.Begun().Sub(first) - length - 200*time.Millisecond - time.Duration(more)*time.Second/2400000; off.Abs() > time.Millisecond {
			t.Errorf("queue of %v: the reading after a loss begins %v off", queue, off)
		}
		r.Close()
	}
}

// BenchmarkRetune gives what a retune costs by the stand-in's clock: from the order to tune until a
// millisecond of samples from after it is there.
func BenchmarkRetune(b *testing.B) {
	for _, queue := range []time.Duration{0, 25 * time.Millisecond, 1500 * time.Millisecond} {
		b.Run(fmt.Sprintf("queue of %v", queue), func(b *testing.B) {
			standIn(b, fmt.Sprintf("queue %g", queue.Seconds()))
			r := open(b, Options{FrontEnd: direct})
			buf, begun := make([]byte, 4800), clock.Elapsed()
			for i := 0; b.Loop(); i++ {
				if _, err := r.Tune(b.Context(), survey.Hz(6e6+1e5*float64(i%2))); err != nil {
					b.Fatal(err)
				}
				if _, err := r.Read(b.Context(), buf); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(1e3*(clock.Elapsed()-begun).Seconds()/float64(b.N), "ms/retune")
			r.Close()
		})
	}
}
