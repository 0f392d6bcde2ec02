package noise_test

import (
	"fmt"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
)

// A simulated switching supply is on from the second hour to the sixth of a survey. Its comb was
// found in many readings; they become one source, with its spacing and its hours.
func ExampleFind() {
	din := reporttest.NewDin(1, reporttest.Radiator{Spacing: 65e3 + 13, Warming: 1, Hours: []reporttest.HourSpan{{From: 2, To: 6}}, Level: []float64{10, 8, 5}})
	din.Rounds = 80
	selected, err := input.Select(din.Input(), input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	found := noise.Find(readlog.New(selected.Input)).Result(reporttest.Zone)
	for _, s := range found.Sources {
		fmt.Printf("%s of %.2f kHz, likely a %s\n", s.Kind, float64(*s.Spacing)/1e3, s.Likely)
		for _, h := range s.Hours {
			fmt.Printf("on for %v\n", h.To.Sub(h.From).Round(time.Minute))
		}
	}
	// Output:
	// comb of 65.01 kHz, likely a switching supply
	// on for 3h59m0s
}
