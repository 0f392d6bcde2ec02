package open

import (
	"context"
	"errors"
	"os"
	"strings"

	"nightfloor/capture"
	"nightfloor/capture/instrument"
	"nightfloor/capture/rtlsdr"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/reports/text"
	"nightfloor/survey/plan"
)

// DongleClock is the clock of surveys with a dongle. Tests put the stand-in's in
// its place.
var DongleClock rtlsdr.Clock = capture.WallClock{}

// Instrument opens what the plan's receiver URI names.
func Instrument(ctx context.Context, c *console.Console, p plan.Plan) (instrument.Instrument, error) {
	if strings.HasPrefix(p.Receiver, "rtlsdr:") {
		if err := CatchDriver(c); err != nil { // before anything is said
			return instrument.Instrument{}, err
		}
	}
	o := instrument.Options{Out: c, Cautions: text.Fold(text.Flow(outdoorCautions), c.Width()), Log: c.Log(false), Clock: DongleClock}
	if console.IsTerminal(c.In) {
		o.In = c.In
	}
	in, err := instrument.Open(ctx, p, o)
	var uri instrument.URIError
	if errors.As(err, &uri) {
		err = console.Usagef("%w", err)
	}
	return in, err
}

// CatchDriver keeps what the driver says on standard error apart from what
// nightfloor says.
func CatchDriver(c *console.Console) error {
	if c.Err != os.Stderr { // a test listens, or it was done before
		return nil
	}
	real, err := rtlsdr.CatchDriverLines()
	if err != nil {
		return err
	}
	c.Err = real
	c.ExitAfter(console.LastWords+console.LastWords/2, real, "stopped at once") // what file descriptor 2 gets is not seen
	return nil
}

// outdoorCautions are shown to whoever changes antennas by hand and asks for them.
const outdoorCautions = `Cautions: when thunder is heard touch no lead and turn nothing by hand; disconnect
outdoor antennas long before it comes. Power lines kill: no antenna, mast or wire where it
could reach one, standing or falling. Ladders and roofs: a second person, no wind, nothing
wet. Earthing, arrestors and masts as local codes ask, by licensed practice. A transmitter
nearby is disconnected first.`
