package rtlsdr

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// orders are those that the driver may hang in, by their names in the stand-in.
var orders = map[string]func(context.Context, *Receiver) error{
	"tune":     func(ctx context.Context, r *Receiver) error { _, err := r.Tune(ctx, 7e6); return err },
	"gain":     func(ctx context.Context, r *Receiver) error { _, err := r.SetGain(ctx, 20); return err },
	"testmode": func(ctx context.Context, r *Receiver) error { return r.mark(ctx) },
}

var upConverter = survey.FrontEnd{Way: survey.WayUp, Offset: 125e6}

// An order that the driver does not come back from ends after callTimeout. The dongle is not
// given back before the order ends; then it can be opened again.
func TestOrderHangs(t *testing.T) {
	for name, order := range orders {
		standIn(t)
		r := open(t, Options{FrontEnd: upConverter})
		standIn(t, "hang "+name)
		took := elapsed(func() { wantStuck(t, name, order(t.Context(), r)) })
		if took < 5*time.Second || took > 5100*time.Millisecond { // a driver's slowest failure takes a second or two
			t.Errorf("%s: given up after %v", name, took)
		}
		if again := elapsed(func() { wantStuck(t, name+" again", order(t.Context(), r)) }); again > 100*time.Millisecond {
			t.Errorf("%s: again given up after %v", name, again)
		}
		if err := r.Close(); err == nil {
			t.Errorf("%s: closed while the order hangs", name)
		}
		_, err := Open(t.Context(), Options{Clock: clock})
		if wantStuck(t, name+": open", err); !strings.Contains(fmt.Sprint(err), "give back receiver") {
			t.Errorf("%s: open: %v", name, err)
		}
		standIn(t)
		opensAgain(t)
	}
}

// When the survey is stopped nobody waits for an order that hangs.
func TestStoppedInAnOrderThatHangs(t *testing.T) {
	for name, order := range orders {
		standIn(t)
		r := open(t, Options{FrontEnd: upConverter})
		standIn(t, "hang "+name)
		ctx, cancel := context.WithCancel(t.Context())
		clock.after(time.Second, cancel)
		took := elapsed(func() {
			if err := order(ctx, r); !errors.Is(err, context.Canceled) {
				t.Errorf("%s: %v", name, err)
			}
		})
		if took < time.Second || took > 1300*time.Millisecond {
			t.Errorf("%s: given up after %v", name, took)
		}
		r.Close()
		standIn(t)
		opensAgain(t)
	}
}

// A driver that does not come back from giving the dongle back is not waited for.
func TestCloseHangs(t *testing.T) {
	standIn(t)
	r := open(t, Options{FrontEnd: direct})
	standIn(t, "hang close")
	if took := elapsed(func() { wantStuck(t, "close", r.Close()) }); took > 6*time.Second {
		t.Errorf("closing took %v", took)
	}
	_, err := Open(t.Context(), Options{Clock: clock})
	wantStuck(t, "open", err)
	standIn(t)
	opensAgain(t)
}

// A driver that hangs while it opens a dongle is not asked again before it has come back,
// and what it opened is given back then.
func TestOpenHangs(t *testing.T) {
	standIn(t, "hang open")
	for i, want := range []time.Duration{5 * time.Second, 0, 0} {
		took := elapsed(func() {
			var err error
			if i < 2 {
				_, err = Open(t.Context(), Options{Clock: clock})
			} else {
				_, err = List(t.Context(), clock)
			}
			wantStuck(t, "open", err)
		})
		if took < want || took > want+100*time.Millisecond {
			t.Errorf("open %d: given up after %v, want %v", i, took, want)
		}
	}
	standIn(t)
	opensAgain(t)
}

func wantStuck(t *testing.T, what string, err error) {
	t.Helper()
	if !errors.Is(err, capture.ErrStuck) || !strings.Contains(err.Error(), "the driver has not come back for 5s; plug the dongle out and in again") {
		t.Errorf("%s: %v", what, err)
	}
}

func elapsed(do func()) time.Duration {
	begun := clock.Elapsed()
	do()
	return clock.Elapsed() - begun
}

// opensAgain wants the dongle to open, once the calls that hung have ended.
func opensAgain(t *testing.T) {
	t.Helper()
	var err error
	for limit := time.Now().Add(time.Minute); time.Now().Before(limit); time.Sleep(time.Millisecond) {
		var r *Receiver
		if r, err = Open(t.Context(), Options{Clock: clock, FrontEnd: direct}); err != nil {
			continue
		}
		tune(t, r, 6e6)
		read(t, r, 1000)
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		return
	}
	t.Errorf("not given back: %v", err)
}
