package scene_test

import (
	"testing"
	"time"

	"nightfloor/capture/capturetest"
	"nightfloor/capture/scene"
	"nightfloor/survey"
)

// The simulated house sits the receivers' exam at night, with the strongest
// station of 49 m for a line. At its offset from the first centre, 90 kHz, there
// is no station about the second: 6151.3 kHz is off the raster.
func TestHouseAsReceiver(t *testing.T) {
	capturetest.TestReceiver(t, func(t *testing.T) capturetest.Candidate {
		house, err := scene.Open("scene:house?seed=7", scene.Options{
			Start: time.Date(2026, time.November, 3, 22, 0, 0, 0, time.UTC),
		})
		if err == nil {
			_, err = house.Change(t.Context(), survey.Setup{Antenna: "whip", Placement: "loft"})
		}
		if err != nil {
			t.Fatal(err)
		}
		return capturetest.Candidate{Receiver: house, Centre: 6.1e6, Other: 6.0613e6, Line: 6.19e6, Gain: 20.7}
	})
}
