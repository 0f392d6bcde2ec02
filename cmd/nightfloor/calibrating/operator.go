package calibrating

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/reports/text"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// cautions go with every calibration.
const cautions = `Cautions: never a transmitter, nor more than −10 dBm from anything, into the receiver's
input. Disconnect an outdoor antenna long before a thunderstorm comes; when thunder is heard
touch no lead. The bias tee is kept off wherever a terminator or a generator is connected;
one that feeds the line from elsewhere is yours to turn off.`

// connect says in words what is to be connected before the first measurement.
func (o *options) connect() string {
	switch {
	case o.kind == survey.CalibrateNoise, o.by == survey.BasisFigure:
		return "a terminator (50 Ω) at the receiver's input, in place of the antenna's cable"
	case o.by == survey.BasisSource:
		return "the noise source at the receiver's input, in place of the antenna's cable, turned off"
	case o.kind == survey.CalibrateLevel:
		return fmt.Sprintf("the generator at the receiver's input, %v dBm at %v without modulation, and nothing else; start it low and turn it up, never over −10 dBm",
			float64(o.level), o.frequency)
	case o.kind == survey.CalibrateLinearity:
		return "the antenna, as in the survey, without the attenuator"
	case o.kind == survey.CalibrateLines && o.at == atAntenna:
		return "a terminator (50 Ω) in place of the antenna, at the antenna's end of the feed line; everything else as in the survey"
	case o.kind == survey.CalibrateLines:
		return "a terminator (50 Ω) at the receiver's input, in place of the feed line; everything else as in the survey"
	}
	return "an antenna that hears broadcast stations in the plan's segments"
}

// addition is what must be said about some plans only.
func (o *options) addition(p plan.Plan) string {
	if o.kind == survey.CalibrateLinearity && p.FrontEnd.Bias {
		return ". The bias tee is on, as the plan says: the attenuator must block direct current or stand it, and pass it on if an amplifier is fed through it"
	}
	return ""
}

// An operator is whoever connects things.
type operator struct {
	c   *console.Console
	yes bool // it is connected
	in  *bufio.Reader
}

// connect says what to connect and waits until it is.
func (h operator) connect(ctx context.Context, what string) error {
	if h.yes {
		return nil
	}
	h.c.Fold(h.c.Err, "Connect %s.\n\n%s\n\nPress Enter once it is connected, Ctrl-C to leave it.\n", what, text.Flow(cautions))
	return h.enter(ctx)
}

// enter waits for Enter alone; after any other line it asks again.
func (h operator) enter(ctx context.Context) error {
	came := make(chan error, 1)
	go func() {
		for {
			text, err := h.in.ReadString('\n')
			if text = strings.TrimRight(text, "\r\n"); err != nil || text == "" {
				came <- err
				return
			}
			fmt.Fprintf(h.c.Err, "%.40q is not Enter alone. Press Enter alone once it is done, Ctrl-C to leave it.\n", text)
		}
	}()
	select {
	case err := <-came:
		if err != nil {
			return errors.New("nobody pressed Enter: the input has ended; start it at a terminal, or with --yes once all is connected, and a program after -- for what is to be done in between")
		}
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// A handAttenuator is put in and out by the operator, who is asked even with --yes, which tells
// of the beginning only.
type handAttenuator struct {
	operator
	in bool // at the beginning it is out
}

// ByHand tells that a person puts it in.
func (a *handAttenuator) ByHand() bool { return true }

// Put asks for the attenuator to be put in, or out again.
func (a *handAttenuator) Put(ctx context.Context, in bool) error {
	if in == a.in {
		return nil
	}
	what := "put the attenuator between the antenna's cable and the receiver. Press Enter once it is there."
	if !in {
		what = "take the attenuator out again. Press Enter once the antenna's cable is at the receiver as before."
	}
	a.c.Fold(a.c.Err, "Now %s\n", what)
	if err := a.enter(ctx); err != nil {
		return err
	}
	a.in = in
	return nil
}

// A handSource is turned on and off by the operator, who is asked even with --yes.
type handSource struct {
	operator
	asked bool // to turn it on
}

// Turn asks for the noise source to be turned on. At the beginning it is off, and at the end nobody waits for that.
func (s *handSource) Turn(ctx context.Context, on bool) error {
	if !on {
		if s.asked {
			s.c.Note("turn the noise source off again")
		}
		return nil
	}
	s.asked = true
	s.c.Fold(s.c.Err, "Now turn the noise source on. Press Enter once it is on.\n")
	return s.enter(ctx)
}

// A handGenerator is set by the operator, who is asked even with --yes.
type handGenerator struct {
	operator
	first survey.DBm // the level that it is connected with
}

// Set asks for another level than the first.
func (g handGenerator) Set(ctx context.Context, told survey.DBm) error {
	if told == g.first {
		return nil
	}
	g.c.Fold(g.c.Err, "Now set the generator to %v dBm at the receiver's input, and change nothing else. Press Enter once that is done.\n", float64(told))
	return g.enter(ctx)
}
