// Package instrument opens what a plan names: its receiver, the clock that this keeps,
// and what changes the antennas at it.
//
// It is the one place that knows every kind of receiver by its URI: rtlsdr: for a dongle,
// file: for a recording that is played, scene: for the simulated house. Foresee says what
// such a receiver cannot do of a plan, without touching it; Open opens it.
package instrument

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/capture/rtlsdr"
	"nightfloor/capture/scene"
	"nightfloor/capture/turn"
	"nightfloor/survey/plan"
)

// An Instrument is an open receiver, the clock that it keeps, and what changes
// its antennas.
type Instrument struct {
	Receiver capture.Receiver
	Clock    capture.Clock
	Changer  capture.Changer
	// Reopen opens the receiver again after it went away; nil for one that cannot
	// go away.
	Reopen func(ctx context.Context) (capture.Receiver, error)
}

// Options say how an instrument speaks with its operator.
type Options struct {
	In       io.Reader // the terminal at which antennas are asked for; nil: nobody sits there
	Out      io.Writer // of that terminal
	Cautions string    // shown to whoever changes antennas by hand and asks for them
	Log      *slog.Logger
	Clock    rtlsdr.Clock // that a dongle goes by
}

// A URIError is that of a receiver's URI that cannot be read.
type URIError struct{ error }

// Unwrap gives what is wrong with it.
func (e URIError) Unwrap() error { return e.error }

// Open opens what the plan's receiver URI names. The error is a URIError where that
// cannot be read.
func Open(ctx context.Context, p plan.Plan, o Options) (Instrument, error) {
	kind, path, _ := strings.Cut(p.Receiver, ":")
	switch kind {
	case "scene":
		house, err := scene.Open(p.Receiver, scene.Options{Rate: p.SampleRate, Locator: p.Site.Locator})
		if err != nil {
			return Instrument{}, err
		}
		changer, err := changerOf(p, o, house)
		if err != nil {
			return Instrument{}, errors.Join(err, house.Close())
		}
		return Instrument{Receiver: house, Clock: house, Changer: changer}, nil
	case "file":
		if p.Change.By == plan.ByCommand || p.Change.By == plan.ByPerson || p.Change.Rotator != nil {
			return Instrument{}, errors.New("open receiver: a recording was made through one setup, which nothing changes now; take [change] and [rotator] out of the plan, or use nightfloor import")
		}
		played, err := iqfile.NewReceiver(path, iqfile.Options{})
		if err != nil {
			return Instrument{}, err
		}
		return Instrument{Receiver: played, Clock: played, Changer: turn.Only{Setup: p.Setups[0]}}, nil
	case "rtlsdr":
		return openDongle(ctx, p, o)
	case "":
		return Instrument{}, errors.New("open receiver: none named; see what is plugged in with nightfloor receivers and name it with --receiver rtlsdr: or in the plan; " + rtlsdr.WithoutDongle)
	}
	return Instrument{}, fmt.Errorf("open receiver %s: %q is no kind of receiver; write rtlsdr: for a dongle, file:PATH for a recording, scene:house for the simulated house", p.Receiver, kind+":")
}

// openDongle opens a dongle, and what changes the antennas at it.
func openDongle(ctx context.Context, p plan.Plan, o Options) (Instrument, error) {
	dongle, err := rtlsdr.ParseURI(p.Receiver)
	if err != nil {
		return Instrument{}, URIError{err}
	}
	changer, err := changerOf(p, o, nil)
	if err != nil {
		return Instrument{}, err
	}
	dongle.Rate, dongle.FrontEnd, dongle.Log, dongle.Clock = p.SampleRate, p.FrontEnd, o.Log, o.Clock
	for _, s := range p.Segments {
		if err := dongle.FrontEnd.Reach(s); err != nil {
			return Instrument{}, fmt.Errorf("open receiver %s: %w", p.Receiver, err)
		}
	}
	open := func(ctx context.Context) (capture.Receiver, error) { return rtlsdr.Open(ctx, dongle) }
	r, err := open(ctx)
	switch {
	case errors.Is(err, rtlsdr.ErrNoDongle):
		return Instrument{}, fmt.Errorf("%w; %s", err, rtlsdr.WithoutDongle)
	case err != nil:
		return Instrument{}, err
	}
	return Instrument{Receiver: r, Clock: o.Clock, Changer: changer, Reopen: open}, nil
}

// changerOf gives what changes the antennas, as the plan says: a person or a
// program, then a rotator. The simulated house, nil for a real receiver, follows
// what these reached.
func changerOf(p plan.Plan, o Options, house capture.Changer) (capture.Changer, error) {
	var chain turn.Chain
	change := p.Change
	switch {
	case change.By == plan.ByPerson:
		if o.In == nil {
			return nil, fmt.Errorf("record: the plan has a person change the antennas, and there is no terminal to ask at; run it in one, or give [change] in the plan by = \"command\" and a program that switches")
		}
		chain = append(chain, &turn.Person{In: o.In, Out: o.Out, Plan: p, Cautions: o.Cautions})
	case change.By == plan.ByCommand:
		chain = append(chain, &turn.Command{Argv: change.Command, Confirm: change.Confirm, TimeOut: change.TimeOut, Setups: p.Setups, Wiring: p.Halves[0], Log: o.Log})
	case house == nil && p.SwitchedSetups() > 1:
		return nil, fmt.Errorf("record: the plan has %d setups and does not say how antennas are changed; add [change] with by = \"person\", or by = \"command\" and a program that switches", len(p.Setups))
	}
	if r := change.Rotator; r != nil {
		chain = append(chain, &turn.Rotator{Rotator: *r, HalfTurn: p.HalfTurn(), Log: o.Log})
	}
	if house != nil {
		chain = append(chain, house)
	}
	return chain, nil
}
