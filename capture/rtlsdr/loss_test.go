package rtlsdr

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// broken tells whether a clean carrier at an offset changes its phase within a
// reading, by a quarter turn and more.
func broken(iq []byte, offset, rate float64) bool {
	const block = 64
	var first complex128
	for i := 0; i+2*block <= len(iq); i += 2 * block {
		var x complex128
		for k := i; k < i+2*block; k += 2 {
			z := complex(float64(iq[k])-127.5, float64(iq[k+1])-127.5)
			x += z * cmplx.Rect(1, -2*math.Pi*math.Mod(offset/rate*float64(k/2), 1))
		}
		if i == 0 {
			first = x
		}
		if math.Abs(cmplx.Phase(x/first)) > math.Pi/2 {
			return true
		}
	}
	return false
}

// A reading that lost samples is marked, wherever in it they are gone, and the next
// is not. The phase of a clean carrier tells the truth.
func TestLossIsTheReadingsOwn(t *testing.T) {
	const lost, n, rate = 8200, 240000, 2.4e6
	centre := survey.Hz(6.1e6)
	_, realised := tuning(direct, centre)
	// So many samples are 30.5 cycles: whole ones could not be told from none.
	const offset = 30.5 / lost * rate
	sky := []string{fmt.Sprintf("carrier %.3f -10", float64(realised)+offset), "noise -200", "figure 0", "queue 0.02"}
	standIn(t, append(sky, "lose 0")...)
	r := open(t, Options{FrontEnd: direct})
	rng := rand.New(rand.NewPCG(1, 1))
	const readings = 40
	var gaps, missed, blamed int
	for i := range readings {
		lose := func() { standIn(t, append(sky, fmt.Sprintf("lose %d", lost+i%2))...) }
		tune(t, r, centre)
		read(t, r, 1)
		if i%2 == 0 { // before one of the last four buffers, or the one after
			at := r.next + n - int64(rng.IntN(5))*bufferLength/2
			clock.after(time.Duration(float64(at-count(r.stream))/rate*1e9), lose)
		} else { // at any time, the next retune included
			clock.after(time.Duration(rng.IntN(130))*time.Millisecond, lose)
		}
		iq, dropped := read(t, r, n)
		gap := broken(iq, offset, rate)
		switch {
		case gap:
			gaps++
			if dropped == 0 {
				missed++
			}
		case dropped > 0:
			blamed++
		}
	}
	t.Logf("%d readings: %d with a gap, of which %d were missed; %d without one were marked", readings, gaps, missed, blamed)
	// None is missed, and one in 20 marked that ends or begins within a buffer of the gap,
	// where the two cannot be told apart.
	if gaps < readings/4 || missed > 0 || 20*blamed > readings {
		t.Errorf("%d readings: %d with a gap, of which %d were missed; %d without one were marked", readings, gaps, missed, blamed)
	}
}

// count gives how many samples have come.
func count(s *stream) int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.next / 2
}

// A reading begins when the receiver made its first sample: where the driver's
// counter does not come, not before the longest queue has gone by.
func TestReadingsBeginWhenTheyWereMade(t *testing.T) {
	standIn(t)
	r := open(t, Options{FrontEnd: direct})
	r.library.SetTestMode = func(device, int32) int32 { return 0 }
	asked := clock.Now()
	if start := visit(t, r, 50*time.Millisecond).Start; start.Before(asked.Add(longestQueue)) {
		t.Errorf("the reading begins %v after it was asked for; what was made until %v was thrown away", start.Sub(asked), longestQueue)
	}
}

// visit makes one reading.
func visit(t *testing.T, r *Receiver, dwell time.Duration) (reading survey.Reading) {
	t.Helper()
	sweeper, err := capture.NewSweeper(r, clock, plan.Plan{Segments: []survey.Segment{{Name: "some", Low: 6e6, High: 6.1e6}}, Dwell: dwell}, capture.SweepOptions{})
	if err != nil {
		t.Fatal(err)
	}
	err = sweeper.Visit(t.Context(), survey.Setup{Antenna: "whip"}, 1, func() bool { return false }, func(readings []survey.Reading) error {
		reading = readings[0]
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return reading
}

// A reading in the middle of which the host slept, or stopped the process, is not
// given out: it is taken again, and begins after it. What the dongle makes meanwhile
// finds no room.
func TestHostThatStandsStill(t *testing.T) {
	for _, test := range []struct {
		name string
		long time.Duration
	}{{"asleep", 3 * time.Hour}, {"stopped", 5 * time.Second}} {
		t.Run(test.name, func(t *testing.T) {
			standIn(t)
			r := open(t, Options{FrontEnd: direct})
			begun, stood := clock.Now(), false
			var woken time.Time
			clock.after(500*time.Millisecond, func() {
				clock.leap(test.long)
				woken, stood = clock.Now(), true
			})
			reading := visit(t, r, time.Second)
			if !stood || reading.Start.Before(woken) {
				t.Errorf("the reading begins %v after it was asked for, the host was back after %v", reading.Start.Sub(begun), woken.Sub(begun))
			}
			if ended := reading.Start.Add(reading.Duration); ended.After(clock.Now()) {
				t.Errorf("the reading ends %v from now", ended.Sub(clock.Now()))
			}
			r.Close()
		})
	}
}
