package input_test

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

// Setups are read as a person writes them; what is left out matches anything.
func ExampleParseSetup() {
	setups := []survey.Setup{
		{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)},
		{Antenna: "loop", Placement: "garden"},
		{Antenna: "whip", Placement: "attic"},
	}
	for _, text := range []string{"loop", "loop@attic", "loop@attic:90"} {
		pattern, err := input.ParseSetup(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%s:", text)
		for _, s := range setups {
			if pattern.Match(s) {
				fmt.Printf(" %v", s)
			}
		}
		fmt.Println()
	}
	// Output:
	// loop: loop@attic:40 loop@garden
	// loop@attic: loop@attic:40
	// loop@attic:90:
}

// A level against full scale moves with the receiver's gain. Where the gains are measured it can
// be referred to another; a tuner's label says too little for that.
func ExampleRefer() {
	exact := func(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true, Exact: true} }
	label := func(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true} }
	fmt.Println(input.Refer(exact(30), exact(20)))
	fmt.Println(input.Refer(label(30), label(20)))
	fmt.Println(input.Refer(label(20), label(20)))
	// Output:
	// 10 true
	// 10 false
	// 0 true
}
