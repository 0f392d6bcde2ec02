package pluglog_test

import (
	"fmt"
	"strings"
	"time"

	"nightfloor/capture/pluglog"
)

// The log of a metering plug tells when a device was on: over a threshold of 5 W here. The first
// power says only how it was found. Clocks stood an hour ahead of UTC. A time that cannot be is a
// mistake with its line.
func ExampleLog_Read() {
	const text = `time,power (W)
2026-11-03 21:03:00,0.4
2026-11-03 21:04:10,1950
2026-11-03 21:05:10,1960
2026-11-03 21:06:00,0.4
`
	log := pluglog.Log{Device: "kettle", Threshold: 5, Zone: time.FixedZone("CET", 3600)}
	switchings, _, err := log.Read(strings.NewReader(text))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range switchings {
		fmt.Println(s.At.Format(time.TimeOnly), s)
	}
	_, _, err = log.Read(strings.NewReader(text + "2026-11-03 25:00,0.4\n"))
	fmt.Println(err)
	// Output:
	// 20:04:10 kettle on
	// 20:06:00 kettle off
	// line 6: time "2026-11-03 25:00" is no time; write it as 2026-11-03T21:04:10Z, or 2026-11-03 21:04:10 in local time
}
