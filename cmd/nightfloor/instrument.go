package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/capture/rtlsdr"
	"nightfloor/capture/scene"
	"nightfloor/capture/turn"
	"nightfloor/survey/plan"
)

// An instrument is an open receiver, the clock that it keeps, and what changes
// its antennas.
type instrument struct {
	receiver capture.Receiver
	clock    capture.Clock
	changer  capture.Changer
	// reopen opens the receiver again after it went away; nil for one that cannot
	// go away.
	reopen func(ctx context.Context) (capture.Receiver, error)
}

// openInstrument opens what the plan's receiver URI names.
func openInstrument(ctx context.Context, c *console, p plan.Plan) (instrument, error) {
	kind, path, _ := strings.Cut(p.Receiver, ":")
	switch kind {
	case "scene":
		house, err := scene.Open(p.Receiver, scene.Options{Rate: p.SampleRate, Locator: p.Site.Locator})
		if err != nil {
			return instrument{}, err
		}
		changer, err := changerOf(c, p, house)
		if err != nil {
			return instrument{}, errors.Join(err, house.Close())
		}
		return instrument{receiver: house, clock: house, changer: changer}, nil
	case "file":
		if p.Change.By == plan.ByCommand || p.Change.By == plan.ByPerson || p.Change.Rotator != nil {
			return instrument{}, errors.New("open receiver: a recording was made through one setup, which nothing changes now; take [change] and [rotator] out of the plan, or use nightfloor import")
		}
		played, err := iqfile.NewReceiver(path, iqfile.Options{})
		if err != nil {
			return instrument{}, err
		}
		return instrument{receiver: played, clock: played, changer: turn.Only{Setup: p.Setups[0]}}, nil
	case "rtlsdr":
		return openDongle(ctx, c, p)
	case "":
		return instrument{}, errors.New("open receiver: none named; see what is plugged in with nightfloor receivers and name it with --receiver rtlsdr: or in the plan; without a dongle, --receiver scene:house plays the simulated house")
	}
	return instrument{}, fmt.Errorf("open receiver %s: %q is no kind of receiver; write rtlsdr: for a dongle, file:PATH for a recording, scene:house for the simulated house", p.Receiver, kind+":")
}

// dongleClock is what a survey with a dongle goes by. Tests hand in that of the
// stand-in.
var dongleClock rtlsdr.Clock = rtlsdr.WallClock{}

// openDongle opens a dongle, and what changes the antennas at it.
func openDongle(ctx context.Context, c *console, p plan.Plan) (instrument, error) {
	o, err := rtlsdr.ParseURI(p.Receiver)
	if err != nil {
		return instrument{}, usageError{err}
	}
	if err := c.catchDriver(); err != nil { // what is made below speaks past it
		return instrument{}, err
	}
	changer, err := changerOf(c, p, nil)
	if err != nil {
		return instrument{}, err
	}
	o.Rate, o.FrontEnd, o.Log, o.Clock = p.SampleRate, p.FrontEnd, c.log(), dongleClock
	for _, s := range p.Segments {
		if err := o.FrontEnd.Reach(s); err != nil {
			return instrument{}, fmt.Errorf("open receiver %s: %w", p.Receiver, err)
		}
	}
	open := func(ctx context.Context) (capture.Receiver, error) {
		r, err := rtlsdr.Open(ctx, o)
		if err != nil {
			return nil, err
		}
		return r, nil
	}
	dongle, err := open(ctx)
	if err != nil {
		return instrument{}, err
	}
	return instrument{receiver: dongle, clock: dongleClock, changer: changer, reopen: open}, nil
}

// catchDriver keeps what the driver says on standard error apart from what
// nightfloor says.
func (c *console) catchDriver() error {
	if c.err != os.Stderr { // a test listens, or it was done before
		return nil
	}
	real, err := rtlsdr.CatchDriverLines()
	if err != nil {
		return err
	}
	c.err = real
	return nil
}
