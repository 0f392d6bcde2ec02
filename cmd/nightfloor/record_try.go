package main

import (
	"context"
	"errors"
	"fmt"

	"nightfloor/capture"
	"nightfloor/capture/instrument"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/cmd/nightfloor/trials"
	"nightfloor/reports/input"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// tryPlan tries the plan's setups: each is put in place, driven and heard once, and what came of it
// is shown. Nothing is stored; a database that is there is asked for the receiver's own noise. The error says which were not heard.
func (o recordOptions) tryPlan(ctx context.Context, p plan.Plan, c *console.Console) error {
	in, err := open.Instrument(ctx, c, p)
	if err != nil {
		return err
	}
	defer in.Receiver.Close()
	if err := instrument.Check(p, in.Receiver.Info(), nil); err != nil {
		return console.PrefixLines("plan "+o.plan, err)
	}
	if _, err := o.end(in.Clock.Now()); err != nil {
		return err
	}
	cautionMoving(c, p)
	r := &capture.Recorder{Plan: p, Receiver: in.Receiver, Clock: in.Clock, Changer: in.Changer,
		Visiting: func(v survey.Visit, known bool) { showTrial(c, p, v, known) }}
	tried, err := r.Try(ctx)
	c.ShowLine("")
	told := len(tried)
	if err != nil { // what ended it is said once
		told = max(0, told-1)
	}
	info, ready := in.Receiver.Info(), "ready"
	if len(tried) > 0 {
		remarked, err := trials.Write(c, p, info, tried, told, o.ownNoise(ctx, p, info))
		if err != nil {
			return err
		}
		if remarked {
			ready = "all setups were heard; if what is said above is right for you"
		}
	}
	if err := trialsError(p, tried, err); err != nil {
		return err
	}
	c.Note("%s, begin with: %s", ready, o.commandLine())
	return nil
}

// ownNoise asks the database that is named, or the default one, for the receiver's own noise. One that is not
// there, or that cannot be read, knows nothing: what is wrong with it record says.
func (o recordOptions) ownNoise(ctx context.Context, p plan.Plan, info capture.Info) trials.OwnNoise {
	var calibrations []survey.Calibration
	if db, _, err := open.Database(ctx, o.database, store.OpenReadOnly); err == nil {
		defer db.Close()
		calibrations, _ = db.Calibrations(ctx) // what was read counts
	}
	return input.SelfNoise(calibrations, capture.Describe(info, p.FrontEnd), info.SampleRate)
}

// commandLine gives the command that carries the plan out.
func (o recordOptions) commandLine() string {
	line := "nightfloor record"
	for _, flag := range []struct{ name, value string }{
		{"plan", o.plan}, {"receiver", o.receiver}, {"until", o.until}, {"db", o.database},
	} {
		if flag.value != "" {
			line += " --" + flag.name + " " + console.Quoted(flag.value)
		}
	}
	if o.duration > 0 {
		line += " --for " + o.duration.String()
	}
	if o.fresh {
		line += " --new"
	}
	return line
}

// trialsError says why a survey of the plan had better not begin; ended is what broke the
// trials off. nil: all were heard.
func trialsError(p plan.Plan, tried []capture.Trial, ended error) error {
	var missed []string
	for _, t := range tried {
		if !t.Heard() || trials.Deaf(p, t) {
			missed = append(missed, wording.Printable(t.Asked.String()))
		}
	}
	of := survey.Count(len(p.Setups), "setup")
	switch {
	case errors.Is(ended, context.Canceled):
		return fmt.Errorf("record --try: stopped by the operator after %d of %s; nothing was stored; start it again when it suits", len(tried)-len(missed), of)
	case errors.Is(ended, capture.ErrUnplugged):
		return fmt.Errorf("record --try: after %d of %s: %w; plug it in and try again", len(tried)-len(missed), of, ended)
	case ended != nil:
		return fmt.Errorf("record --try: after %d of %s: %w; put that right and try again", len(tried)-len(missed), of, ended)
	case len(missed) > 0:
		return fmt.Errorf("record --try: %d of %s could not be heard: %s; put right what is said above, or take them out of the plan, and try again", len(missed), of, trials.FirstOf(missed))
	}
	return nil
}

// cautionMoving says what is about to move by itself, and what that asks of people.
func cautionMoving(c *console.Console, p plan.Plan) {
	turns, switches := p.Change.Rotator != nil, p.Change.By == plan.ByCommand
	if !turns && !switches {
		return
	}
	what, who := "a program switches antennas", ""
	if turns {
		who = "nobody on mast or ladder or within an antenna's reach, cables free to turn, "
		what = map[bool]string{true: what + " and a rotator turns them", false: "a rotator turns antennas"}[switches]
	}
	c.Note("caution: from now on %s: %sno transmitter on any of them, and in a thunderstorm touch no lead; an interrupt (Ctrl-C) stops it", what, who)
}

// showTrial shows at a terminal which setup is tried. A person is asked there meanwhile.
func showTrial(c *console.Console, p plan.Plan, v survey.Visit, known bool) {
	setup := wording.Printable(v.Asked.String())
	switch {
	case known:
		c.ShowLine(fmt.Sprintf("trying %d of %d  listening through %s", v.Number, len(p.Setups), setup))
	case p.Change.By == plan.ByPerson:
		c.ShowLine("")
	default:
		c.ShowLine(fmt.Sprintf("trying %d of %d  changing to %s", v.Number, len(p.Setups), setup))
	}
}
