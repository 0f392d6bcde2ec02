package rises_test

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/rises"
	"nightfloor/reports/text"
)

// In a simulated night a device raises the floor by 8 dB in all segments from the third hour to
// the fifth. It is told once, with the times at which it was switched.
func ExampleOf() {
	tide := reporttest.NewTide(1, func(setup, segment int, hours float64) float64 {
		return reporttest.Between(hours, 3, 5, 8)
	})
	selected, err := input.Select(tide.Input(), input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range rises.Of(readlog.New(selected.Input), nil) {
		fmt.Printf("%s: %.0f dB in %d of %d segments\n", r.Kind, float64(*r.Level), len(r.Segments), r.Measured)
		fmt.Println(text.RiseLine(&r, reporttest.Zone))
	}
	// Output:
	// step: 8 dB in 6 of 6 segments
	// 3 Nov 2026 13:00 – 14:59 CET, floor up 8.1 (7.7 … 8.6) dB on 6 of 6 segments: one device switching
}
