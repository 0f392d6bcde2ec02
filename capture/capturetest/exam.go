package capturetest

import (
	"bytes"
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// A Candidate is a receiver to be examined, and what is known of its sky. Its
// gain is set to Gain, or to its only one, before levels are looked at.
type Candidate struct {
	capture.Receiver
	Centre survey.Hz // it can be tuned to
	Other  survey.Hz // another centre, 0 where it cannot be retuned
	Line   survey.Hz // a steady line, 20 dB and more over the noise in 40 Hz at both centres, and nothing at the same offset from the other centre
	Gain   survey.DB // at which the line neither clips nor drowns, nor does it 6 dB below
}

// TestReceiver is the exam for whatever wants to be a capture.Receiver. open
// gives a fresh candidate each time.
func TestReceiver(t *testing.T, open func(t *testing.T) Candidate) {
	for _, part := range []struct {
		name  string
		check func(*testing.T, Candidate)
	}{
		{"info", checkInfo}, {"read fills the buffer", checkFill}, {"time passes with samples", checkTime}, {"gain", checkGain},
		{"retune", checkRetune}, {"cancelled context", checkContext}, {"close", checkClose},
	} {
		t.Run(part.name, func(t *testing.T) {
			c := open(t)
			t.Cleanup(func() { c.Close() }) // some parts have closed it
			part.check(t, c)
		})
	}
}

func checkInfo(t *testing.T, c Candidate) {
	info := c.Info()
	if info.URI == "" || info.Name == "" || !(info.SampleRate > 0) || info.Stale < 0 {
		t.Errorf("%+v", info)
	}
	for i, g := range info.Gains {
		if i > 0 && g <= info.Gains[i-1] {
			t.Errorf("gains do not rise: %v", info.Gains)
		}
	}
	if d := info.Droop; d != nil && math.Abs(d(0)-1) > 1e-9 {
		t.Errorf("the power response at the centre is %v, want 1", d(0))
	}
}

// settled tunes, sets the gain and throws away what is stale.
func settled(t *testing.T, c Candidate, centre survey.Hz, gain survey.DB) {
	t.Helper()
	if _, err := c.Tune(t.Context(), centre); err != nil {
		t.Fatal(err)
	}
	if _, err := c.SetGain(t.Context(), gain); err != nil {
		t.Fatal(err)
	}
	if stale := int(math.Ceil(float64(c.Info().SampleRate) * c.Info().Stale.Seconds())); stale > 0 {
		take(t, c, stale)
	}
}

// take reads n samples.
func take(t *testing.T, c Candidate, n int) []byte {
	t.Helper()
	buf := make([]byte, 2*n)
	if _, err := c.Read(t.Context(), buf); err != nil {
		t.Fatal(err)
	}
	return buf
}

func checkFill(t *testing.T, c Candidate) {
	settled(t, c, c.Centre, c.Gain)
	// Two buffers full of different bytes before: none of them may shine through.
	// 1 in 200 codes at the very ends would be clipping; here it would be a gap.
	for _, before := range []byte{0, 255} {
		buf := bytes.Repeat([]byte{before}, 20000)
		if _, err := c.Read(t.Context(), buf); err != nil {
			t.Fatal(err)
		}
		if left := bytes.Count(buf, []byte{before}); left > len(buf)/200 {
			t.Errorf("%d of %d bytes are as they were", left, len(buf))
		}
	}
}

func checkTime(t *testing.T, c Candidate) {
	clock, ok := c.Receiver.(capture.Clock)
	if !ok {
		t.Skip("it has no clock of its own")
	}
	settled(t, c, c.Centre, c.Gain)
	start, rate := clock.Now(), float64(c.Info().SampleRate)
	n := int(rate / 20)
	take(t, c, n)
	passed := clock.Now().Sub(start)
	if want := time.Duration(float64(n) / rate * 1e9); (passed - want).Abs() > 2*time.Nanosecond { // two roundings
		t.Errorf("%d samples took %v, want %v", n, passed, want)
	}
}

func checkGain(t *testing.T, c Candidate) {
	info := c.Info()
	if len(info.Gains) == 0 {
		t.Skip("it has no gain to set")
	}
	for _, asked := range []survey.DB{-100, 1000, info.Gains[0] + 0.01, c.Gain} {
		got, err := c.SetGain(t.Context(), asked)
		if err != nil {
			t.Fatal(err)
		}
		if want := capture.NearestStep(info.Gains, asked); got != (survey.Gain{DB: want, Known: true, Exact: info.GainsExact}) {
			t.Errorf("gain %v: %+v, want step %v, exact %v", asked, got, want, info.GainsExact)
		}
	}
	if !info.GainsExact || c.Line == 0 {
		return
	}
	settled(t, c, c.Centre, c.Gain)
	n := int(info.SampleRate / 20)
	high := lineIn(take(t, c, n), float64(c.Line-c.Centre), float64(info.SampleRate))
	lower := capture.NearestStep(info.Gains, c.Gain-6)
	settled(t, c, c.Centre, lower)
	low := lineIn(take(t, c, n), float64(c.Line-c.Centre), float64(info.SampleRate))
	want := float64(capture.NearestStep(info.Gains, c.Gain) - lower)
	// A line 20 dB over the noise scatters by 0.6 dB, and it may fade a little in 0.1 s.
	if got := 10 * math.Log10(high/low); math.Abs(got-want) > 2 {
		t.Errorf("the line fell by %.2f dB, want %.2f", got, want)
	}
}

// checkRetune wants the line at its own place, and once what Info calls stale
// has gone by, nothing of the tuning before.
func checkRetune(t *testing.T, c Candidate) {
	if c.Line == 0 || c.Other == 0 {
		t.Skip("it cannot be retuned, or no line is known")
	}
	rate := float64(c.Info().SampleRate)
	n := int(rate / 20)
	settled(t, c, c.Centre, c.Gain)
	before := take(t, c, n)
	settled(t, c, c.Other, c.Gain)
	after := take(t, c, n)
	old, fresh := float64(c.Line-c.Centre), float64(c.Line-c.Other)
	// 20 dB over the noise by promise; noise alone exceeds a tenth of that 10 dB
	// over its mean in e^-10 of cases.
	if was, is := lineIn(before, old, rate), lineIn(after, old, rate); is > was/10 {
		t.Errorf("after a retune the line is at its old offset, %.1f dB below", 10*math.Log10(was/is))
	}
	if was, is := lineIn(before, old, rate), lineIn(after, fresh, rate); math.Abs(10*math.Log10(is/was)) > 3 {
		t.Errorf("after a retune the line at its new offset is %.1f dB above what it was", 10*math.Log10(is/was))
	}
}

// lineIn gives the power at an offset in Hz, through a Hann window.
func lineIn(iq []byte, offset, rate float64) float64 {
	n := len(iq) / 2
	var re, im, weights float64
	for i := range n {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		sin, cos := math.Sincos(-2 * math.Pi * math.Mod(offset/rate*float64(i), 1))
		x, y := float64(iq[2*i])-127.5, float64(iq[2*i+1])-127.5
		re += w * (x*cos - y*sin)
		im += w * (x*sin + y*cos)
		weights += w
	}
	return (re*re + im*im) / (weights * weights) / (128 * 128)
}

func checkContext(t *testing.T, c Candidate) {
	settled(t, c, c.Centre, c.Gain)
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := c.Read(gone, make([]byte, 1<<16)); !errors.Is(err, context.Canceled) {
		t.Errorf("read with a cancelled context: %v", err)
	}
	take(t, c, 100) // and it goes on with another
}

func checkClose(t *testing.T, c Candidate) {
	if _, err := c.Tune(t.Context(), c.Centre); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Read(t.Context(), make([]byte, 1<<16)); err == nil {
		t.Error("read after close")
	}
}
