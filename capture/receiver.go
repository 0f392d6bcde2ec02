// Package capture brings readings in. A Receiver delivers I/Q, the Sweeper turns I/Q into
// readings, the Recorder carries out a plan: it takes turns between setups through a
// Changer and stores each sweep. The Importer makes sweeps of recordings.
//
// A receiver delivers 8-bit I/Q as the dongle does: interleaved unsigned bytes,
// I first, code c standing for (c − 127.5)/128 of full scale. Frequencies are in
// Hz, gains in dB. The Clock comes from outside, so that a night can pass in seconds;
// only the recorder knows time and order, only the sweeper how a receiver misbehaves
// after a retune. Receivers and changers are in the packages below this one.
package capture

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// Errors that callers test for.
var (
	ErrUnplugged = errors.New("receiver unplugged")
	ErrStuck     = errors.New("no samples for 2 s")
	ErrBusy      = errors.New("in use by another program")
	ErrNotLocked = errors.New("the tuner does not lock")
)

// Info is what a receiver says of itself.
type Info struct {
	URI        string
	Name       string
	Serial     string
	Tuner      string
	Library    string      // that the receiver is driven by, "" for none
	SampleRate survey.Hz   // realised, not asked
	Gains      []survey.DB // steps that can be set, rising; empty: no gain control
	GainsExact bool        // Gains are measured figures, not labels
	Simulated  bool
	// Droop is the power response of the receiver's own filter at an offset from
	// the centre, 1 at the centre; nil where it is flat or unknown.
	Droop func(offset survey.Hz) float64
	// Flags gives the flags that every reading of a segment bears through this
	// receiver, such as nyquist-image; nil: none.
	Flags func(survey.Segment) []string
	// Stale is the longest stretch of samples from before a retune that may
	// still be delivered after it.
	Stale time.Duration
}

// NearestStep gives the gain step that is nearest to a gain, of two the lower one.
func NearestStep(steps []survey.DB, gain survey.DB) survey.DB {
	return slices.MinFunc(steps, func(a, b survey.DB) int {
		return cmp.Compare(math.Abs(float64(a-gain)), math.Abs(float64(b-gain)))
	})
}

// A Receiver delivers 8-bit I/Q. Its methods are called from one goroutine.
type Receiver interface {
	Info() Info
	// Tune sets the centre frequency and gives the one that was realised, which is a few
	// hertz off (a recording that is played always has its own). Samples from before may
	// still come, for up to Info().Stale. Errors: ErrNotLocked, ErrUnplugged.
	Tune(ctx context.Context, centre survey.Hz) (realised survey.Hz, err error)
	// SetGain sets the nearest step of Info().Gains and gives it.
	SetGain(ctx context.Context, gain survey.DB) (survey.Gain, error)
	// Read fills buf (of even length) with interleaved I/Q bytes and blocks
	// until it has. On a Clock of its own, the receiver's time passes with it.
	// The caller owns buf. dropped counts complex samples lost before or within
	// buf. Errors: ErrUnplugged, ErrStuck.
	Read(ctx context.Context, buf []byte) (dropped int64, err error)
	Close() error
}

// A SetupChecker is a Changer that can tell beforehand which setups it cannot
// put in place. The error names every one.
type SetupChecker interface {
	CheckSetups(setups []survey.Setup) error
}

// A Changer puts a setup in place and says what was reached. It takes the time
// that this takes, by the wall clock, and ends early when ctx does. What it does
// not confirm it must not claim: an error that wraps ErrNotReached says that
// nobody knows what is in place; the visit is left out then and the survey goes
// on. Any other error ends the survey.
type Changer interface {
	Change(ctx context.Context, asked survey.Setup) (Reached, error)
}

// Reached is what a changer put in place. Beside an error only DoubtBefore counts.
type Reached struct {
	// Setup is what is in place: the asked one, where that is so within the
	// tolerance of what measures it, else the one that really is.
	Setup   survey.Setup
	Bearing survey.Bearing // where the antenna points, where something measured it
	Said    string         // what is to be kept with the visit, "" for nothing

	DoubtBefore bool // something may have been changed during the visit before
}

// ErrNotReached says that nobody knows which setup is in place: a change failed, or
// nobody confirmed it.
var ErrNotReached = errors.New("the setup is not in place")

// ErrLeftOut is an ErrNotReached where the operator left the visit out, which is no fault.
var ErrLeftOut = fmt.Errorf("%w: left out by the operator", ErrNotReached)
