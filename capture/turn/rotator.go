package turn

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net"
	"slices"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

var (
	_ capture.Changer      = (*Rotator)(nil)
	_ capture.SetupChecker = (*Rotator)(nil)
)

// A Rotator turns antennas by Hamlib's rotctld. Its azimuths are degrees of its
// own travel, so that 370 is another place than 10: the bearing is the same, the
// feed line is wound once more. Bearing (of the plane, true) = azimuth + Zero.
type Rotator struct {
	plan.Rotator
	// HalfTurn tells whether half a turn serves all bearings of an antenna: a
	// loop, unless the plan has a bearing and its opposite. nil: none.
	HalfTurn func(antenna string) bool
	Log      *slog.Logger

	at         float64 // azimuth last read, brought into the range
	seen       bool    // at is one
	fractional bool    // a reading was no whole degree
	timing     *timing // nil: usual
}

// A timing is how long things take with a rotator, by the wall clock.
type timing struct {
	exchange time.Duration // is what an answer, or a connection, may take
	pause    time.Duration // comes before what failed is tried again; doubled, to eight times this
	patience time.Duration // is for how long that goes on
	poll     time.Duration // lies between two readings of the position
	stall    time.Duration // without moving, and it is given up; half of it, and it is sent once more
	rest     time.Duration // is what coming to rest may take after a stop
	lastStop time.Duration // is what a last stop may take when the program ends
}

var usualTiming = timing{exchange: 2 * time.Second, pause: 500 * time.Millisecond, patience: 10 * time.Second,
	poll: 500 * time.Millisecond, stall: 10 * time.Second, rest: 10 * time.Second, lastStop: time.Second}

// Degrees. Readings in a row that differ by less than still mean that the rotator rests, by
// less than moved that it makes no progress. One whose reading flickers between two
// neighbouring degrees rests, too; that takes more readings to tell.
const (
	still   = 0.2
	moved   = 0.5
	flicker = 1.0
)

// Numbers of readings, two a second in earnest, that say that it rests. Whole
// degrees stay the same for a second at 1° a second.
const (
	restFine    = 3
	restWhole   = 4
	restFlicker = 11
)

// CheckSetups names every setup that no azimuth in the rotator's range serves.
func (r *Rotator) CheckSetups(setups []survey.Setup) error {
	var errs []error
	for _, s := range setups {
		errs = append(errs, r.checkSetup(s))
	}
	return errors.Join(errs...)
}

func (r *Rotator) checkSetup(s survey.Setup) error {
	if !r.Turns(s.Antenna) || !s.Bearing.Known {
		return nil
	}
	if _, ok := r.target(s, 0); ok {
		return nil
	}
	return fmt.Errorf("%v: out of the rotator's reach: from azimuth %g to %g its bearings are %g° to %g°; leave the setup out of the plan, or correct range and zero of [rotator]", s, r.Low, r.High, r.Low+r.Zero, r.High+r.Zero)
}

// Change turns the antenna and waits until it rests. Where it rests elsewhere
// than asked, that is what was reached. A setup without a bearing stays as it
// points. An antenna that the rotator does not turn is in place. The error wraps
// capture.ErrNotReached where nobody knows where the rotator stands. When ctx
// ends, the rotator is stopped.
func (r *Rotator) Change(ctx context.Context, asked survey.Setup) (capture.Reached, error) {
	if !r.Turns(asked.Antenna) {
		return capture.Reached{Setup: asked}, nil
	}
	if err := r.checkSetup(asked); err != nil {
		return capture.Reached{}, fmt.Errorf("%w: %w", capture.ErrNotReached, err)
	}
	t := r.begin(asked)
	defer t.daemon.close()
	reached, err := t.change(ctx)
	switch {
	case err == nil:
		r.Log.Debug("rotator stands", "asked", asked.String(), "azimuth", r.at, "said", reached.Said)
		return reached, nil
	case ctx.Err() != nil:
		return capture.Reached{}, ctx.Err()
	}
	return capture.Reached{}, fmt.Errorf("%w: %w", capture.ErrNotReached, r.fault(err))
}

// Ready asks where the rotator stands. The error tells why it cannot be asked.
func (r *Rotator) Ready(ctx context.Context) error {
	t := r.begin(survey.Setup{})
	defer t.daemon.close()
	err := t.readPosition(ctx)
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	}
	return r.fault(err)
}

// begin begins a rotation; its connection is to be closed.
func (r *Rotator) begin(asked survey.Setup) *rotation {
	pace := cmp.Or(r.timing, &usualTiming)
	return &rotation{Rotator: r, timing: pace, asked: asked, daemon: rotctl{address: r.Address, limit: pace.exchange}}
}

// fault adds to an error which rotator it is of and what to do.
func (r *Rotator) fault(err error) error {
	return fmt.Errorf("rotator at %s: %w; %s", r.Address, err, r.advice(err))
}

// advice tells what to do about a rotator that cannot be asked.
func (r *Rotator) advice(err error) string {
	var op *net.OpError
	if host, port, bad := net.SplitHostPort(r.Address); bad == nil && errors.As(err, &op) && op.Op == "dial" {
		return fmt.Sprintf("start rotctld -m MODEL -r DEVICE -T %s -t %s there (without -T it listens on every address, and never asks for a password)", host, port)
	}
	return "see whether the rotator is switched on and free to turn, and what rotctld prints"
}

// target gives the azimuth within the range that serves a setup and is nearest
// to where the rotator stands, along its own travel: no end stop lies between.
func (r *Rotator) target(asked survey.Setup, at float64) (azimuth float64, ok bool) {
	turn := 360.0
	if r.half(asked.Antenna) {
		turn = 180
	}
	const slip = 1e-6 // of the arithmetic
	first := asked.Bearing.Deg - r.Zero
	for a := first + turn*math.Ceil((r.Low-slip-first)/turn); a <= r.High+slip; a += turn {
		if !ok || math.Abs(a-at) < math.Abs(azimuth-at) {
			azimuth, ok = min(max(a, r.Low), r.High), true
		}
	}
	return azimuth, ok
}

func (r *Rotator) half(antenna string) bool { return r.HalfTurn != nil && r.HalfTurn(antenna) }

// withinRange gives the azimuth in the range that the rotator may name by whole turns more
// or less. Of two it is the one nearest to the last known. An azimuth that can be none in
// the range is left as it is named.
func (r *Rotator) withinRange(named float64) float64 {
	within := func(a float64) bool { return a >= r.Low-r.Tolerance && a <= r.High+r.Tolerance }
	near := named
	// Rotators that know one turn only name it from −180 to 180 or from 0 to 360;
	// any other name is meant as it stands.
	if r.seen && !(within(named) && (named < -180 || named > 360)) {
		near = r.at
	}
	best, found := named, false
	for a := named - 1080; a <= named+1080; a += 360 {
		if within(a) && (!found || math.Abs(a-near) < math.Abs(best-near)) {
			best, found = a, true
		}
	}
	return best
}

// A rotation is one change under way.
type rotation struct {
	*Rotator
	timing *timing
	asked  survey.Setup
	daemon rotctl
	last   []float64 // azimuths read since it was sent, or stopped; the newest last
}

func (t *rotation) change(ctx context.Context) (capture.Reached, error) {
	if err := t.readPosition(ctx); err != nil {
		return capture.Reached{}, err
	}
	if !t.asked.Bearing.Known {
		return capture.Reached{Setup: t.asked, Bearing: t.pointing()}, nil
	}
	target, _ := t.target(t.asked, t.at)
	why, err := t.turn(ctx, target)
	if err != nil {
		t.stopAnyway(ctx)
		return capture.Reached{}, err
	}
	return t.reached(why), nil
}

// turn sends the rotator to an azimuth and waits until it rests. why goes on
// after "stands at", for the case that it does elsewhere.
func (t *rotation) turn(ctx context.Context, target float64) (why string, err error) {
	limit := time.Now().Add(t.TimeOut)
	if refused, err := t.send(ctx, target); err != nil {
		return "", err
	} else if refused != "" {
		return refused, t.halt(ctx)
	}
	t.last = nil // what was read before it was sent says nothing
	from, since, again := t.at, time.Now(), false
	for {
		rests, err := t.poll(ctx)
		if err != nil {
			return "", err
		}
		if math.Abs(t.at-from) >= moved {
			from, since, again = t.at, time.Now(), false
		}
		switch idle := time.Since(since); {
		case rests && t.arrived():
			return "", nil
		case time.Now().After(limit):
			return fmt.Sprintf("where it was stopped after %v", t.TimeOut), t.halt(ctx)
		case idle >= t.timing.stall/2 && again:
			return "and does not move", t.halt(ctx)
		case idle >= t.timing.stall/2:
			since, again = time.Now(), true
			if _, err := t.send(ctx, target); err != nil {
				return "", err
			}
		}
	}
}

// send sends the rotator to an azimuth. refused tells that and why rotctld does
// not take the order.
func (t *rotation) send(ctx context.Context, azimuth float64) (refused string, err error) {
	err = t.retry(ctx, func() error { return t.daemon.setPosition(ctx, azimuth) })
	var no refusal
	if errors.As(err, &no) {
		return fmt.Sprintf("and rotctld refuses azimuth %.2f: %v", azimuth, no), nil
	}
	return "", err
}

// halt stops the rotator and waits until it rests. A rotator that has no stop command may
// come to rest all the same.
func (t *rotation) halt(ctx context.Context) error {
	err := t.retry(ctx, func() error { return t.daemon.stop(ctx) })
	var no refusal
	if err != nil && !errors.As(err, &no) {
		return err
	}
	t.last = nil
	limit := time.Now().Add(t.timing.rest)
	for {
		if rests, err := t.poll(ctx); err != nil || rests {
			return err
		}
		if time.Now().After(limit) {
			return fmt.Errorf("it does not come to rest within %v of being stopped", t.timing.rest)
		}
	}
}

// stopAnyway stops a rotator that is given up, where that can still be done.
func (t *rotation) stopAnyway(ctx context.Context) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), t.timing.lastStop)
	defer cancel()
	if err := t.daemon.stop(ctx); err != nil {
		t.Log.Debug("rotator could not be stopped", "why", err)
	}
}

// poll reads the position after a while, and tells whether it stays what it is.
func (t *rotation) poll(ctx context.Context) (rests bool, err error) {
	if err := wallClock.Sleep(ctx, t.timing.poll); err != nil {
		return false, err
	}
	if err := t.readPosition(ctx); err != nil {
		return false, err
	}
	t.last = append(t.last[max(0, len(t.last)-restFlicker+1):], t.at)
	enough := restWhole
	if t.fractional {
		enough = restFine
	}
	return t.spread(enough) < still || t.spread(restFlicker) <= flicker, nil
}

// spread gives by how much the last n readings differ; infinite: there are fewer.
func (t *rotation) spread(n int) float64 {
	if len(t.last) < n {
		return math.Inf(1)
	}
	some := t.last[len(t.last)-n:]
	return slices.Max(some) - slices.Min(some)
}

// readPosition reads where the rotator stands.
func (t *rotation) readPosition(ctx context.Context) error {
	return t.retry(ctx, func() error {
		named, err := t.daemon.position(ctx)
		if err == nil {
			t.at, t.seen, t.fractional = t.withinRange(named), true, t.fractional || named != math.Trunc(named)
		}
		return err
	})
}

// retry does again what fails, over a new connection and with pauses, as
// long as that may help.
func (t *rotation) retry(ctx context.Context, do func() error) error {
	limit := time.Now().Add(min(t.timing.patience, t.TimeOut))
	for pause := t.timing.pause; ; pause = min(2*pause, 8*t.timing.pause) {
		err := do()
		var no refusal
		left := time.Until(limit)
		if err == nil || left <= 0 || (errors.As(err, &no) && !no.passing()) {
			return err
		}
		t.Log.Debug("rotator: tried again", "why", err)
		if err := wallClock.Sleep(ctx, min(pause, left)); err != nil {
			return err
		}
	}
}

// pointing gives the bearing; where half a turn serves all bearings, that of the two
// opposite ones which is nearer to the asked one.
func (t *rotation) pointing() survey.Bearing {
	b := survey.BearingOf(t.at + t.Zero)
	if t.asked.Bearing.Known && t.half(t.asked.Antenna) && math.Abs(b.From(t.asked.Bearing)) > 90 {
		return b.Opposite()
	}
	return b
}

// arrived tells whether the antenna points where asked, within the tolerance.
func (t *rotation) arrived() bool {
	return math.Abs(t.pointing().From(t.asked.Bearing)) <= t.Tolerance
}

// reached tells where a rotator stands that rests.
func (t *rotation) reached(why string) capture.Reached {
	reached := capture.Reached{Setup: t.asked, Bearing: t.pointing()}
	if t.arrived() {
		return reached
	}
	reached.Setup.Bearing = survey.BearingOf(math.Round(reached.Bearing.Deg))
	if reached.Setup == t.asked { // it missed a tolerance under half a degree
		reached.Setup.Bearing = reached.Bearing
	}
	tenth := survey.BearingOf(math.Round(reached.Bearing.Deg*10) / 10)
	reached.Said = fmt.Sprintf("asked for %v, stands at %v %s", t.asked.Bearing, tenth, why)
	return reached
}
