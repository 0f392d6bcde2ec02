package main

import (
	"context"
	"errors"
	"os"
	"strings"

	"nightfloor/capture"
	"nightfloor/capture/instrument"
	"nightfloor/capture/rtlsdr"
	"nightfloor/reports/text"
	"nightfloor/survey/plan"
)

// dongleClock is the clock of surveys with a dongle. Tests put the stand-in's in
// its place.
var dongleClock rtlsdr.Clock = capture.WallClock{}

// openInstrument opens what the plan's receiver URI names.
func openInstrument(ctx context.Context, c *console, p plan.Plan) (instrument.Instrument, error) {
	if strings.HasPrefix(p.Receiver, "rtlsdr:") {
		if err := c.catchDriver(); err != nil { // before the log and the questions below take c.err
			return instrument.Instrument{}, err
		}
	}
	o := instrument.Options{Out: c.err, Cautions: text.Fold(text.Flow(outdoorCautions), c.width()), Log: c.log(false), Clock: dongleClock}
	if isTerminal(c.in) {
		o.In = c.in
	}
	in, err := instrument.Open(ctx, p, o)
	var uri instrument.URIError
	if errors.As(err, &uri) {
		err = usageError{err}
	}
	return in, err
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
	c.exitAfter(lastWords+lastWords/2, real, "stopped at once") // what file descriptor 2 gets is not seen
	return nil
}

// outdoorCautions are shown to whoever changes antennas by hand and asks for them.
const outdoorCautions = `Cautions: when thunder is heard touch no lead and turn nothing by hand; disconnect
outdoor antennas long before it comes. Power lines kill: no antenna, mast or wire where it
could reach one, standing or falling. Ladders and roofs: a second person, no wind, nothing
wet. Earthing, arrestors and masts as local codes ask, by licensed practice. A transmitter
nearby is disconnected first.`
