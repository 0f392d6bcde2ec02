package plan_test

import (
	"fmt"

	"nightfloor/survey/plan"
)

// smallPlan is the least that a plan needs, and some rounds: which setups, which segments.
const smallPlan = `
title = "loop or whip"

[turns]
rounds = 8
seed = 11

[[setup]]
antenna = "loop"
placement = "attic"
bearings = [0, 90]

[[setup]]
antenna = "whip"
placement = "garden"

[[segment]]
band = "31 m"

[[segment]]
low = "9.95 MHz"
high = "10 MHz"
`

// A plan names setups and segments; a loop that is turned is a setup at each bearing.
func ExampleParse() {
	p, err := plan.Parse([]byte(smallPlan))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %d rounds, readings of %v\n", p.Title, p.Rounds, p.Dwell)
	for _, s := range p.Setups {
		fmt.Println("through", s)
	}
	for _, s := range p.Segments {
		fmt.Println("on", s.Name)
	}
	// Output:
	// loop or whip: 8 rounds, readings of 500ms
	// through loop@attic:0
	// through loop@attic:90
	// through whip@garden
	// on 31 m
	// on 9950-10000 kHz
}

// Every mistake is told at once, each with its line.
func ExampleParse_mistakes() {
	_, err := plan.Parse([]byte(`title = "loop or whip"
[turns]
dwell = 0.5
[[setup]]
antena = "loop"
placement = "attic"
[[segment]]
low = "9.9 MHz"
high = "9.4 MHz"
`))
	fmt.Println(err)
	// Output:
	// line 3: turns.dwell: a number with a point stands there; write a text in quotes
	// line 5: unknown key setup.antena; did you mean antenna? The keys there are stand in the plan that nightfloor plan new FILE writes
	// line 7: segment 1: the lower edge must be above 0 and below the upper one
}

// The order of setups is shuffled anew in each round, always alike for one seed, so that a
// survey that was interrupted goes on in the order it would have had.
func ExampleShuffler() {
	p, err := plan.Parse([]byte(smallPlan))
	if err != nil {
		fmt.Println(err)
		return
	}
	order := p.Shuffler()
	for round := range 4 {
		fmt.Printf("round %d:", round+1)
		for _, i := range order.Next() {
			fmt.Printf(" %v", p.Setups[i])
		}
		fmt.Println()
	}
	// Output:
	// round 1: whip@garden loop@attic:0 loop@attic:90
	// round 2: loop@attic:0 whip@garden loop@attic:90
	// round 3: loop@attic:0 loop@attic:90 whip@garden
	// round 4: loop@attic:90 whip@garden loop@attic:0
}

// What a plan will hold is reckoned before anything is tuned or moved, and how many rounds an
// answer wants, since carriers fade. Both segments fit into
// one tuning here.
func ExamplePlan_Outlook() {
	p, err := plan.Parse([]byte(smallPlan))
	if err != nil {
		fmt.Println(err)
		return
	}
	o := p.Outlook(1, 0)
	fmt.Printf("%d sweeps, %d readings, %s in all\n", o.Sweeps, o.Readings, plan.DurationText(o.Total))
	fmt.Printf("±1 dB on a carrier needs %d rounds, on eight carriers %d\n", o.Needed, o.NeededOnEight)
	// Output:
	// 648 sweeps, 1296 readings, 6.3 min in all
	// ±1 dB on a carrier needs 15 rounds, on eight carriers 6
}
