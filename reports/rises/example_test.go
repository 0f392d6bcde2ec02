package rises

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
)

// In a simulated night a device raises the floor by 8 dB in all segments from the third hour to
// the fifth. It is told once, with the times at which it was switched.
func ExampleOf() {
	tide := newTide(1, func(setup, segment int, hours float64) float64 {
		return between(hours, 3, 5, 8)
	})
	selected, err := input.Select(tide.Input(), input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range Of(readlog.New(selected.Input), nil) {
		fmt.Printf("%s: %.0f dB in %d of %d segments\n", r.Kind, float64(*r.Level), len(r.Segments), r.Measured)
		fmt.Printf("from %s to %s UTC\n", r.From.Format("15:04"), r.To.Format("15:04"))
	}
	// Output:
	// step: 8 dB in 6 of 6 segments
	// from 12:00 to 13:59 UTC
}
