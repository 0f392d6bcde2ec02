package calibrate_test

import (
	"context"
	"fmt"
	"time"

	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// With a terminator at its input a receiver hears itself. Of a simulated one, whose own noise is
// −120 dBm/Hz, the calibrator measures the floor at every gain; full scale is −10 dBm at 0 dB. At
// the lowest gain the converter has too few codes for a sure figure.
func ExampleCalibrator_SelfNoise() {
	fake := capturetest.New(capturetest.Sky{Floor: -120, Gains: []survey.DB{0, 20, 40}})
	terminator := survey.Setup{Antenna: "terminator", Placement: "bench"}
	p := plan.Plan{Setups: []survey.Setup{terminator}, Segments: []survey.Segment{survey.SegmentOf(9.62e6, 9.68e6)}, Dwell: 100 * time.Millisecond}
	k, err := calibrate.New(fake, fake, p, terminator)
	if err != nil {
		fmt.Println(err)
		return
	}
	steps, err := k.SelfNoise(context.Background())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range steps {
		fmt.Printf("gain %2.0f dB: floor %.0f dBFS/Hz, doubtful %v\n", float64(s.Gain), float64(s.Density), s.Doubtful)
	}
	// Output:
	// gain  0 dB: floor -99 dBFS/Hz, doubtful true
	// gain 20 dB: floor -90 dBFS/Hz, doubtful false
	// gain 40 dB: floor -70 dBFS/Hz, doubtful false
}
