package bearings

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/reports/text"
)

// A loop is turned beside a whip in a simulated survey, where a house next door makes noise: the
// loop's floor has a null of 12 dB at 60°. Null and depth come out, with the null's interval.
func ExampleOf() {
	spin := newSpin(1)
	spin.Null, spin.Depth = 60, 12
	selected, err := input.Select(spin.Input(), input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range Of(selected, nil).Patterns {
		if p.Null == nil {
			fmt.Println("no null:", *p.NoNull)
			continue
		}
		fmt.Printf("%s@%s, %s: null %.0f°, 95 %% %s, depth %.0f dB\n", p.Antenna, p.Placement, text.PatternName(&p),
			*p.Null, text.NullInterval(&p), float64(*p.Depth))
	}
	// Output:
	// loop@attic, floor: null 60°, 95 % 059° … 061°, depth 12 dB
}
