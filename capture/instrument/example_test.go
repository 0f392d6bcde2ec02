package instrument_test

import (
	"context"
	"fmt"
	"log/slog"

	"nightfloor/capture/instrument"
	"nightfloor/survey/plan"
)

// A plan names its receiver by a URI. What that cannot do is told before it is touched; then it
// is opened, with the clock that it keeps and what changes its antennas. The simulated house is
// all three.
func ExampleOpen() {
	for _, high := range []string{"9.9 MHz", "9.7 MHz"} {
		p, err := plan.Parse([]byte(`
receiver = { uri = "scene:house?seed=7" }
setup = [{ antenna = "whip", placement = "loft" }]
segment = [{ low = "9.4 MHz", high = "` + high + `" }]
`))
		info, _, err := instrument.Foresee(p, err)
		if err != nil {
			fmt.Println(err)
			continue
		}
		in, err := instrument.Open(context.Background(), p, instrument.Options{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%s, simulated %v, at %v\n", info.Name, info.Simulated, in.Clock.Now())
		in.Receiver.Close()
	}
	// Output:
	// line 4: segment 1: 31 m is 500 kHz wide, and a sample rate of 1.024 MHz takes in a third of its width, beside the DC spike; set sample_rate = "1.6 MHz", or split it
	// simulated house, simulated true, at 2026-11-03 17:30:00 +0000 UTC
}
