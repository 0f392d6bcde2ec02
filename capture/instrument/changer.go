package instrument

import (
	"fmt"

	"nightfloor/capture"
	"nightfloor/capture/turn"
	"nightfloor/survey/plan"
)

// changerOf gives what changes the antennas, as the plan says: a person or a
// program, then a rotator. The simulated house, nil for a real receiver, follows
// what these reached.
func changerOf(p plan.Plan, o Options, house capture.Changer) (capture.Changer, error) {
	chain := turn.Chain{House: house}
	change := p.Change
	switch {
	case change.By == plan.ByPerson:
		if o.In == nil {
			return nil, fmt.Errorf("record: the plan has a person change the antennas, and there is no terminal to ask at; run it in one, or give [change] in the plan by = \"command\" and a program that switches")
		}
		chain.Switch = &turn.Person{In: o.In, Out: o.Out, Remind: change.Remind, Patience: change.Patience,
			Antenna: p.Antenna, HalfTurn: p.HalfTurn, Turned: change.Rotator.Turns, Declination: p.Declination, Cautions: o.Cautions}
	case change.By == plan.ByCommand:
		chain.Switch = &turn.Command{Argv: change.Command, Confirm: change.Confirm, TimeOut: change.TimeOut, Setups: p.Setups, Log: o.Log}
	case house == nil && p.SwitchedSetups() > 1:
		return nil, fmt.Errorf("record: the plan has %d setups and does not say how antennas are changed; add [change] with by = \"person\", or by = \"command\" and a program that switches", len(p.Setups))
	}
	if r := change.Rotator; r != nil {
		chain.Rotator = &turn.Rotator{Rotator: *r, HalfTurn: p.HalfTurn, Log: o.Log}
	}
	return chain, nil
}
