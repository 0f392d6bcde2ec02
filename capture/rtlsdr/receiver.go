package rtlsdr

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"strings"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/passband"
)

// A Receiver is an open dongle. Its methods are called from one goroutine.
type Receiver struct {
	library     *library
	device      device
	options     Options
	info        capture.Info
	log         *slog.Logger
	clock       Clock
	stream      *stream
	nominal     float64 // samples a second by the chip's own clock
	next        int64   // the sample that Read delivers next
	changed     bool    // Read is to deliver what is digitised from now on
	marking     *marking
	sampleClock sampleClock // by the last mark
	begun       time.Time   // of the last Read
	missing     missingMarks
	hung        <-chan struct{} // the call that was given up, until it ends; nil: none was
	closed      bool
}

// Open opens a dongle and starts its stream. Errors: ErrNoLibrary,
// capture.ErrUnplugged where it is not there, capture.ErrBusy, capture.ErrStuck.
func Open(ctx context.Context, o Options) (*Receiver, error) {
	o.Log = cmp.Or(o.Log, slog.New(slog.DiscardHandler))
	o.Clock = cmp.Or[Clock](o.Clock, capture.WallClock{})
	o.Rate = cmp.Or(o.Rate, defaultRate)
	if err := errors.Join(survey.DongleRate(o.Rate), o.FrontEnd.Check()); err != nil {
		return nil, fmt.Errorf("open receiver: %w", err)
	}
	r, err := search(ctx, o.Clock, "open receiver", func() (*Receiver, error) { return openFound(o) }, func(late *Receiver) { late.library.Close(late.device) })
	if err != nil {
		return nil, err
	}
	if err := r.begin(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("open receiver %s: %w", r.info.URI, err), r.Close())
	}
	return r, nil
}

// openFound opens a dongle and sets it up.
func openFound(o Options) (*Receiver, error) {
	l, err := load()
	if err != nil {
		return nil, err
	}
	found, err := l.find(o)
	if err != nil {
		return nil, fmt.Errorf("open receiver: %w", err)
	}
	r := &Receiver{library: l, options: o, log: o.Log, clock: o.Clock, missing: missingMarks{log: o.Log}}
	if code := l.Open(&r.device, uint32(found.Index)); code == usbBusy && heldBack.Load() > 0 {
		return nil, hang{"give back receiver " + found.URI()}
	} else if code < 0 {
		return nil, fmt.Errorf("open receiver %s: %w", found.URI(), openError(code))
	}
	if err := r.setUp(found); err != nil {
		l.Close(r.device)
		return nil, fmt.Errorf("open receiver %s: %w", found.URI(), err)
	}
	if found.SameSerial > 1 {
		r.log.Warn("other dongles have the same serial: plugged in anew, they may change places; give each one of its own", "receiver", r.info.URI, "serial", found.Serial, "alike", found.SameSerial)
	}
	r.log.Info("receiver open", "receiver", r.info.URI, "tuner", r.info.Tuner, "library", l.path, "rate", float64(r.info.SampleRate))
	return r, nil
}

// setUp puts the dongle into the state that a survey needs, whatever another
// program left behind.
func (r *Receiver) setUp(found Dongle) error {
	l, dev, fe := r.library, r.device, r.options.FrontEnd
	if tunerName(l.TunerType(dev)) == unknownTuner {
		return errors.New("its tuner is not known to the driver; update librtlsdr")
	}
	branch := map[string]int32{survey.WayDirectI: 1, survey.WayDirectQ: 2}[fe.Way]
	if branch != 0 { // an open dongle is in no such mode
		if err := failed("set direct sampling", l.SetDirect(dev, branch)); err != nil {
			return err
		}
	}
	if err := failed("set the sample rate", l.SetSampleRate(dev, uint32(r.options.Rate))); err != nil {
		return err
	}
	r.nominal = realised(float64(r.options.Rate))
	if said := l.SampleRate(dev); math.Abs(float64(said)-r.nominal) > 1 {
		return fmt.Errorf("the driver realises %d samples a second, %.1f were expected; update librtlsdr", said, r.nominal)
	}
	if err := failed("turn the chip's gain control off", l.SetAGCMode(dev, 0)); err != nil {
		return err
	}
	if err := r.setBias(); err != nil {
		return err
	}
	r.info = capture.Info{
		URI: found.URI(), Name: found.title(), Serial: found.ownSerial(), Tuner: tunerName(l.TunerType(dev)), Library: l.path,
		SampleRate: survey.Hz(r.nominal * (1 + fe.PPM*1e-6)), Droop: passband.Decimation, Flags: flagsOf(fe),
	}
	if branch != 0 {
		r.info.Tuner = fe.Way
		return nil
	}
	if err := failed("set the gain by hand", l.SetTunerGainMode(dev, 1)); err != nil {
		return err
	}
	n := l.TunerGains(dev, nil)
	if n <= 0 {
		return errors.New("the driver knows no gains of its tuner; update librtlsdr")
	}
	tenths := make([]int32, n)
	l.TunerGains(dev, &tenths[0])
	for _, g := range tenths {
		r.info.Gains = append(r.info.Gains, survey.DB(g)/10)
	}
	return nil
}

// flagsOf marks segments in which images may stand.
func flagsOf(fe survey.FrontEnd) func(survey.Segment) []string {
	return func(s survey.Segment) []string {
		if fe.Images(s) != nil {
			return []string{survey.FlagNyquistImage}
		}
		return nil
	}
}

// setBias turns the bias tee on where it is asked for, else off.
func (r *Receiver) setBias() error {
	on := int32(0)
	if r.options.FrontEnd.Bias {
		on = 1
	}
	switch {
	case r.library.SetBiasTee != nil:
		return failed("set the bias tee", r.library.SetBiasTee(r.device, on))
	case on == 1:
		return errors.New("the driver knows no bias tee; update librtlsdr, or leave bias_tee out")
	}
	return nil
}

// realised gives the rate that the chip runs at when asked for one: its divider
// has 22 bits after the point, of which the last two are dropped (PHYSICS.md 7.1).
func realised(rate float64) float64 {
	const steps = 28.8e6 * (1 << 22)
	ratio := uint64(steps/rate) & 0x0ffffffc
	return steps / float64(ratio|(ratio&0x08000000)<<1)
}

// failed turns a driver's code into an error, nil where it is none.
func failed(what string, code int32) error {
	switch {
	case code >= 0:
		return nil
	case code == usbNoDevice:
		return fmt.Errorf("%s: %w", what, capture.ErrUnplugged)
	}
	return refusal{what, code}
}

// A refusal is the error of a dongle that is there and does not do what it is told. Opening
// it again may help, as with one that is stuck.
type refusal struct {
	what string
	code int32
}

func (e refusal) Error() string {
	return fmt.Sprintf("%s: the driver gave error %d; plug the dongle out and in again if it stays so", e.what, e.code)
}

func (e refusal) Unwrap() error { return capture.ErrStuck }

// pulledTimeout is how long the driver may take to end the stream of a dongle that was
// pulled out.
const pulledTimeout = 200 * time.Millisecond

// answer turns the driver's code into an error, nil where it is none. For a dongle that
// was pulled out the driver may give any code; its stream ends soon after.
func (r *Receiver) answer(what string, code int32) error {
	if code >= 0 {
		return nil
	}
	if r.stream != nil {
		if ended, _ := r.clock.Wait(context.Background(), r.stream.done, pulledTimeout); ended {
			code = usbNoDevice
		}
	}
	return failed(what, code)
}

// begin starts the stream, and waits until it comes.
func (r *Receiver) begin(ctx context.Context) error {
	if err := r.order(ctx, "clear the driver's buffers", func() int32 { return r.library.ResetBuffer(r.device) }); err != nil {
		return err
	}
	r.stream, r.changed = start(r.library, r.device, float64(r.info.SampleRate), r.clock), true
	return r.wait(ctx)
}

// Info says what the dongle is. Read throws away what is stale by itself.
func (r *Receiver) Info() capture.Info { return r.info }

// lockPauses are those between tries to tune: a cold tuner, or one whose supply
// dips, may lock a moment later.
var lockPauses = []time.Duration{50 * time.Millisecond, 100 * time.Millisecond, 200 * time.Millisecond, 400 * time.Millisecond, 800 * time.Millisecond}

// Tune sets the radio frequency that the middle of the samples stands for, and
// gives what was realised. Errors: capture.ErrNotLocked where the tuner does not
// reach it however often it is tried, capture.ErrUnplugged, capture.ErrStuck.
func (r *Receiver) Tune(ctx context.Context, centre survey.Hz) (survey.Hz, error) {
	if r.closed {
		return 0, errClosed
	}
	set, got := tuning(r.options.FrontEnd, centre)
	if !(set > 0 && set < math.MaxUint32) {
		return 0, fmt.Errorf("tune to %v: out of the dongle's range", centre)
	}
	what := fmt.Sprintf("tune to %v", centre)
	for try := 0; ; try++ {
		driverSaid()
		r.changed = true
		if err := r.order(ctx, what, func() int32 { return r.library.SetCentre(r.device, uint32(set)) }); err != nil {
			return 0, err
		}
		if !strings.Contains(driverSaid(), notLocked) {
			return got, nil
		}
		if try == len(lockPauses) {
			return 0, fmt.Errorf("%s: %w%s", what, capture.ErrNotLocked, r.otherWays(set))
		}
		if err := r.clock.Sleep(ctx, lockPauses[try]); err != nil {
			return 0, err
		}
	}
}

// otherWays says of a frequency that the tuner does not lock to how else it is received, "" where it is none of those
// that every tuner leaves out (PHYSICS.md 7.6).
func (r *Receiver) otherWays(set float64) string {
	if set >= float64(survey.TunerLowest) || r.options.FrontEnd.Way != survey.WayBuiltIn {
		return ""
	}
	const ways = `write front_end = "up-converter" and its offset where one stands before the dongle, or "direct sampling Q" (or I) where the dongle has a tap at that input`
	if tuner := r.info.Tuner; tuner != tunerWithConverter {
		return fmt.Sprintf(`; front_end is "built-in up-converter", which only dongles with an %s have, and this one has an %s: %s`, tunerWithConverter, tuner, ways)
	}
	return `; front_end is "built-in up-converter", and this dongle has none, or its driver is too old to know of it: update librtlsdr, or ` + ways
}

// SetGain sets the nearest step. The steps are labels: what they really are at
// a frequency only calibration tells. Errors: capture.ErrUnplugged,
// capture.ErrStuck.
func (r *Receiver) SetGain(ctx context.Context, gain survey.DB) (survey.Gain, error) {
	switch {
	case r.closed:
		return survey.Gain{}, errClosed
	case math.IsNaN(float64(gain)):
		return survey.Gain{}, errors.New("gain: not a number; choose one of the receiver's steps")
	case len(r.info.Gains) == 0: // direct sampling: one gain for ever, so levels compare
		return survey.Gain{Known: true, Exact: true}, nil
	}
	step := capture.NearestStep(r.info.Gains, gain)
	r.changed = true
	set := func() int32 { return r.library.SetTunerGain(r.device, int32(math.Round(float64(step*10)))) }
	if err := r.order(ctx, fmt.Sprintf("set the gain to %v", step), set); err != nil {
		return survey.Gain{}, err
	}
	return survey.Gain{DB: step, Known: true}, ctx.Err()
}

var errClosed = errors.New("receiver is closed")

// Close stops the stream and gives the dongle back. A stream or a call that does not end
// cannot be stopped from outside; the dongle is given back when it does.
func (r *Receiver) Close() error {
	if r.closed {
		return nil
	}
	r.closed = true
	cancel := func() { r.library.CancelAsync(r.device) } // it only asks, and does not hang
	stopped := func(patience time.Duration) bool { return r.stream == nil || r.stream.stop(cancel, patience) }
	if stopped(silence) && r.idle(stopTimeout) {
		var code int32
		hung, err := await(context.Background(), r.clock, "close receiver", func() { code = r.library.Close(r.device) })
		if err != nil {
			holdBack(func() { <-hung })
			return err
		}
		return failed("close receiver", code)
	}
	holdBack(func() {
		for !stopped(time.Hour) {
		}
		if r.hung != nil {
			<-r.hung
		}
		r.library.Close(r.device)
	})
	return errors.New("close receiver: the driver does not come back; plug the dongle out and in again")
}
