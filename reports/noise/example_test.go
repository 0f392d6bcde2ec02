package noise_test

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/wording"
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
		fmt.Printf("%s, likely a %s\n", wording.Source(&s), s.Likely)
		for _, h := range s.Hours {
			fmt.Printf("on for %s\n", wording.Duration(h.To.Sub(h.From)))
		}
	}
	// Output:
	// 65.0 kHz comb, likely a switching supply
	// on for 3 h 59 min
}
