package rtlsdr

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"nightfloor/capture"
	"nightfloor/survey"
)

// An order that fails may do so since the dongle was pulled, whatever code the
// driver gives; another failure is one that to open the dongle again may mend.
func TestRefusedOrders(t *testing.T) {
	for _, frontEnd := range []survey.FrontEnd{direct, upConverter} {
		for name, order := range orders {
			if name == "gain" && frontEnd.Direct() { // there is none
				continue
			}
			standIn(t)
			r := open(t, Options{FrontEnd: frontEnd})
			for _, code := range []int{-1, -7} {
				standIn(t, fmt.Sprintf("refuse %d", code))
				err := order(t.Context(), r)
				if !errors.Is(err, capture.ErrStuck) || errors.Is(err, capture.ErrUnplugged) || !strings.Contains(fmt.Sprint(err), fmt.Sprintf("error %d;", code)) {
					t.Errorf("%s, %s: code %d: %v", frontEnd.Way, name, code, err)
				}
			}
			// The order may come before the driver has noticed.
			standIn(t, "plugged 0")
			if err := order(t.Context(), r); !errors.Is(err, capture.ErrUnplugged) || errors.Is(err, capture.ErrStuck) {
				t.Errorf("%s, %s: pulled: %v", frontEnd.Way, name, err)
			}
			r.Close()
		}
	}
}

// A driver that goes on calling with empty buffers is silent too.
func TestEmptyBuffers(t *testing.T) {
	standIn(t)
	r := open(t, Options{FrontEnd: direct})
	tune(t, r, 6e6)
	read(t, r, 100)
	standIn(t, "empty 1")
	if _, err := r.Read(t.Context(), make([]byte, 4800000)); !errors.Is(err, capture.ErrStuck) {
		t.Errorf("%v", err)
	}
}

// A receiver that is closed before its driver has begun to read gives the dongle
// back all the same.
func TestCloseBeforeTheStreamBegins(t *testing.T) {
	standIn(t)
	l, err := load()
	if err != nil {
		t.Fatal(err)
	}
	var once sync.Once
	read, closing := l.ReadAsync, make(chan struct{})
	cancel := l.CancelAsync
	l.CancelAsync = func(dev device) int32 { // asked for the first time: too early
		code := cancel(dev)
		once.Do(func() { close(closing) })
		return code
	}
	l.ReadAsync = func(dev device, callback, context uintptr, buffers, length uint32) int32 {
		<-closing
		return read(dev, callback, context, buffers, length)
	}
	r := &Receiver{library: l, clock: clock}
	if code := l.Open(&r.device, 0); code < 0 {
		t.Fatal(code)
	}
	if err := failed("set the rate", l.SetSampleRate(r.device, 2.4e6)); err != nil {
		t.Fatal(err)
	}
	r.stream = start(l, r.device, 2.4e6, clock)
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	if again, err := Open(t.Context(), Options{Clock: clock}); err != nil {
		t.Error(err)
	} else if err := again.Close(); err != nil {
		t.Error(err)
	}
}
