package rtlsdr

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"nightfloor/capture"
)

// callTimeout is how long the driver may take for a call. A USB transfer that fails ends after
// 300 ms [librtlsdr:0.6, CTRL_TIMEOUT], and after a few of them the driver gives up; a call that
// takes longer hangs in the system. Chosen.
const callTimeout = 5 * time.Second

// stopTimeout is how long a call under way may take to end when the survey is to end.
const stopTimeout = 200 * time.Millisecond

// A hang is the error of a call that the driver does not come back from.
type hang struct{ what string }

func (e hang) Error() string {
	return fmt.Sprintf("%s: the driver has not come back for %v; plug the dongle out and in again, and start nightfloor anew if it stays so", e.what, callTimeout)
}

func (e hang) Unwrap() error { return capture.ErrStuck }

// await lets do call the driver, and waits until it has. Where it gives up, because the call
// hangs or the context ended, hung is closed once do has ended all the same.
func await(ctx context.Context, clock Clock, what string, do func()) (hung <-chan struct{}, err error) {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		do()
	}()
	came, err := clock.Await(ctx, ended, callTimeout)
	if err != nil {
		came, _ = clock.Await(context.WithoutCancel(ctx), ended, stopTimeout)
	}
	switch {
	case came:
		return nil, nil
	case err != nil:
		return ended, fmt.Errorf("%s: %w", what, err)
	}
	return ended, hang{what}
}

// searching is full while the driver looks for dongles or opens one. If it hangs in that, no
// other call is made that would hang too.
var searching = make(chan struct{}, 1)

// search lets do look for dongles. What it finds after it was given up goes to late.
func search[T any](ctx context.Context, clock Clock, what string, do func() (T, error), late func(T)) (T, error) {
	var found, none T
	var failure error
	select {
	case searching <- struct{}{}:
	default:
		return none, hang{what}
	}
	hung, err := await(ctx, clock, what, func() {
		found, failure = do()
		<-searching
	})
	if err == nil {
		return found, failure
	}
	go func() {
		if <-hung; failure == nil {
			late(found)
		}
	}()
	return none, err
}

// heldBack counts the dongles that were closed and that a call which hangs still holds.
var heldBack atomic.Int32

// holdBack counts a dongle that was closed until wait has waited for the driver to give it back.
func holdBack(wait func()) {
	heldBack.Add(1)
	go func() {
		wait()
		heldBack.Add(-1)
	}()
}

// order has the driver do something with the dongle. Errors: capture.ErrUnplugged,
// capture.ErrStuck, that of the context where the call did not end with it.
func (r *Receiver) order(ctx context.Context, what string, do func() int32) error {
	if !r.idle(0) {
		return hang{what}
	}
	var code int32
	var err error
	if r.hung, err = await(ctx, r.clock, what, func() { code = do() }); err != nil {
		return err
	}
	return r.answer(what, code)
}

// idle waits until the call that was given up has ended, if there is one.
func (r *Receiver) idle(patience time.Duration) bool {
	if r.hung != nil {
		if ended, _ := r.clock.Await(context.Background(), r.hung, patience); !ended {
			return false
		}
		r.hung = nil
	}
	return true
}
