package result_test

import (
	"fmt"
	"os"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A loop's pattern is one curve, in power against the reference's: this one has its nulls
// at 0° and 180°, 10 dB deep, and its peaks across.
func ExampleCurve_At() {
	c := result.Curve{A0: 0.55, A1: -0.45}
	for deg := 0.0; deg <= 180; deg += 45 {
		fmt.Printf("%.0f°: %.2f\n", deg, c.At(deg))
	}
	// Output:
	// 0°: 0.10
	// 45°: 0.55
	// 90°: 1.00
	// 135°: 0.55
	// 180°: 0.10
}

// Documents have no more digits than mean anything, and null for a figure that is not known.
func ExampleWriteJSON() {
	level := result.DB(8.2341879)
	loop := survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}
	err := result.WriteJSON(os.Stdout, result.NoiseStrength{Setup: loop, Segment: "31 m", SegmentLow: 9.4e6, SegmentHigh: 9.9e6, Level: level, Rounds: 5})
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// {
	//   "antenna": "loop",
	//   "placement": "attic",
	//   "bearing_deg": 40,
	//   "segment": "31 m",
	//   "low_hz": 9400000,
	//   "high_hz": 9900000,
	//   "level_db": 8.2342,
	//   "low_db": null,
	//   "high_db": null,
	//   "rounds": 5,
	//   "isolation": null
	// }
}
