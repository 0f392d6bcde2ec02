package calibrate_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

// The first run on a receiver whose gain settles is refused, and one on a receiver that drifts by a dB an hour is not. Readings
// are a tenth of a second, and settling is a hundred times as fast.
func TestColdReceiver(t *testing.T) {
	for _, kind := range []string{survey.CalibrateNoise, survey.CalibrateLevel} {
		for cold, drifts := range map[float64]bool{6: true, -6: true, 0.002: false} {
			sky := ownSky(8)
			sky.Gains = []survey.DB{36, 39, 42, 45, 48, 51, 54, 57, 60, 63, 66, 69, 72, 75}
			sky.Drift = func(since time.Duration) survey.DB { return survey.DB(cold * math.Exp(-since.Seconds()/6)) }
			s := calibrate.Settings{}
			if kind == survey.CalibrateLevel {
				sky.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: -90}}
				s = calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.65e6, Level: -90, Uncertainty: 1}
			}
			r, err := measure(t, kind, sky, s)
			refused := err != nil && strings.Contains(err.Error(), "the receiver drifts: levels changed by ") && strings.Contains(err.Error(), "let the dongle run for half an hour, then measure again")
			if refused != drifts || err != nil && !refused || strings.Contains(strings.Join(r.Doubts, "; "), "drifts") {
				t.Errorf("%s, %g dB still to come: %v, doubts %q", kind, cold, err, r.Doubts)
			}
		}
	}
}
