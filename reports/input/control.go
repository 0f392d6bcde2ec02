package input

import (
	"cmp"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Plans reads the plans of the surveys. Of a plan that another version wrote, what this one
// can read is given.
func (in Input) Plans() map[int64]plan.Plan {
	plans := map[int64]plan.Plan{}
	for _, s := range in.Surveys {
		plans[s.ID], _ = plan.Parse([]byte(s.Plan))
	}
	return plans
}

// AntennaOf gives what a plan says of a setup's antenna, whatever state it is in.
func AntennaOf(p plan.Plan, s survey.Setup) survey.Antenna {
	return p.Antenna(cmp.Or(s.State.Antenna, s.Antenna))
}

// Controls tells which setups are controls: a plan says so, or the name terminator.
func (in Input) Controls() map[survey.Setup]bool {
	found, plans := map[survey.Setup]bool{}, in.Plans()
	for _, s := range in.Sweeps {
		if AntennaOf(plans[s.Survey], s.Setup).Kind == survey.KindTerminator {
			found[s.Setup] = true
		}
	}
	return found
}
