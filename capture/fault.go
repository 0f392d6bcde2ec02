package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"nightfloor/survey"
)

// A fault is something that does not work for now. It is logged when it begins and when
// it ends, not in between.
type fault struct {
	since time.Time // zero: none
	why   string
}

// Pauses between tries to open a receiver that went away: each is twice the one
// before.
const (
	firstPause = time.Second
	lastPause  = 30 * time.Second
)

// recoverable tells whether a receiver's failure may pass, so that opening it again may help.
// A tuner that does not lock is opened again only if it has worked before in this run;
// otherwise the plan asks for a frequency that it cannot reach.
func (r *Recorder) recoverable(err error) bool {
	passing := []error{ErrUnplugged, ErrStuck, ErrBusy}
	if r.worked {
		passing = append(passing, ErrNotLocked)
	}
	return r.Reopen != nil && slices.ContainsFunc(passing, func(e error) bool { return errors.Is(err, e) })
}

// An absence of the receiver lasts from the end of the last reading until a sweep has been
// made again: one that opens and fails anew was away all the time.
type absence struct {
	begun time.Time     // zero: it is there
	from  time.Time     // end of the last reading
	why   string        // in the words of the data
	pause time.Duration // before the next try to open it
	said  []string      // reasons that were logged
}

// recoverReceiver tries to open the receiver again until it succeeds or the survey is to end.
// The error is an ending where the survey is to end.
func (r *Recorder) recoverReceiver(ctx context.Context, failure error) error {
	if r.away.begun.IsZero() {
		r.away = absence{begun: r.Clock.Now(), from: r.last.end, why: faultText(failure), pause: firstPause, said: []string{failure.Error()}}
		r.last.visit = 0 // the gap is that of the absence
		r.Log.Warn("fault began: receiver", "why", failure)
	}
	if err := r.Receiver.Close(); err != nil {
		r.Log.Debug("close the receiver that failed", "why", err)
	}
	for ; ; failure = r.reopen(ctx) {
		switch {
		case failure == nil:
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case !slices.Contains(r.away.said, failure.Error()):
			r.away.said = append(r.away.said, failure.Error())
			r.Log.Warn("receiver still away", "why", failure)
		}
		if err := r.wait(ctx, r.Clock.Now().Add(r.away.pause)); err != nil {
			return err
		}
		if early := r.ended(); early != nil {
			return early
		}
		r.away.pause = min(2*r.away.pause, lastPause)
	}
}

// closeGap stores the gap of an absence that lasted until a moment.
func (r *Recorder) closeGap(ctx context.Context, until time.Time) error {
	was := r.away
	if was.begun.IsZero() {
		return nil
	}
	r.away = absence{}
	return r.journal.gap(ctx, was.from, until, was.why)
}

// reopen opens the receiver again, and no other: another dongle has other gains
// and calibrations of its own. Gains that were found for it stay.
func (r *Recorder) reopen(ctx context.Context) error {
	fresh, err := r.Reopen(ctx)
	if err != nil {
		return err
	}
	was, is := Describe(r.Receiver.Info(), r.Plan.FrontEnd), Describe(fresh.Info(), r.Plan.FrontEnd)
	if was != is {
		return errors.Join(fmt.Errorf("another receiver is there, %s; plug in the one that the survey was begun with, %s", survey.ReceiverText(is), survey.ReceiverText(was)), fresh.Close())
	}
	sweeper, err := NewSweeper(fresh, r.Clock, r.Plan, r.sweeper.options)
	if err != nil {
		return errors.Join(fmt.Errorf("go on with the receiver: %w", err), fresh.Close())
	}
	if slices.Equal(fresh.Info().Gains, r.Receiver.Info().Gains) {
		sweeper.gains, sweeper.raised, sweeper.watch = r.sweeper.gains, r.sweeper.raised, r.sweeper.watch
	}
	r.Receiver, r.sweeper = fresh, sweeper
	return nil
}

// faultText names a receiver's failure in the words of the data.
func faultText(err error) string {
	switch {
	case errors.Is(err, ErrUnplugged):
		return "receiver unplugged"
	case errors.Is(err, ErrNotLocked):
		return ErrNotLocked.Error()
	case errors.Is(err, ErrStuck):
		return "receiver stuck: " + err.Error()
	}
	return err.Error()
}
