package turn_test

import (
	"context"
	"errors"
	"fmt"

	"nightfloor/capture"
	"nightfloor/capture/scene"
	"nightfloor/capture/turn"
	"nightfloor/survey"
)

// A plan with one setup needs nobody to change antennas. What is asked for beyond it was not
// reached, and is not claimed.
func ExampleOnly() {
	whip := survey.Setup{Antenna: "whip", Placement: "attic"}
	changer := turn.Only{Setup: whip}
	for _, asked := range []survey.Setup{whip, {Antenna: "loop", Placement: "attic"}} {
		reached, err := changer.Change(context.Background(), asked)
		if err != nil {
			fmt.Printf("asked for %v: %v\n", asked, err)
			continue
		}
		fmt.Printf("asked for %v: %v is in place\n", asked, reached.Setup)
	}
	// Output:
	// asked for whip@attic: whip@attic is in place
	// asked for loop@attic: the setup is not in place: nothing here changes antennas; add [change] to the plan
}

// In a chain each step is asked for what the one before reached. A switch that fails leaves the
// setup unknown, and the simulated house behind it is not asked.
func ExampleChain() {
	house, err := scene.Open("scene:house?seed=7", scene.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer house.Close()
	loft := survey.Setup{Antenna: "whip", Placement: "loft"}
	for _, argv := range [][]string{nil, {"no-such-program"}} {
		chain := turn.Chain{house}
		if argv != nil {
			chain = turn.Chain{&turn.Command{Argv: argv}, house}
		}
		reached, err := chain.Change(context.Background(), loft)
		if errors.Is(err, capture.ErrNotReached) {
			fmt.Println("switched by", argv[0]+": nobody knows what is in place")
			continue
		}
		fmt.Println("without a switch:", reached.Setup, "is in place")
	}
	// Output:
	// without a switch: whip@loft is in place
	// switched by no-such-program: nobody knows what is in place
}
