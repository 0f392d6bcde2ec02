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

// The first run on a receiver whose gain settles is refused or doubted, and one on a receiver that drifts by some tenths of a
// dB an hour is not. Readings are a tenth of a second, a fifth of the usual ones, and settling is five times as fast.
func TestColdReceiver(t *testing.T) {
	for _, kind := range []string{survey.CalibrateNoise, survey.CalibrateLevel} {
		for cold, want := range map[float64]string{6: "refused", 3: "refused", -3: "refused", 2: "refused or doubted", -2: "refused or doubted", 0.02: "accepted"} {
			sky := ownSky(8)
			sky.Gains = []survey.DB{36, 39, 42, 45, 48, 51, 54, 57, 60, 63, 66, 69, 72, 75}
			sky.Drift = func(since time.Duration) survey.DB { return survey.DB(cold * math.Exp(-since.Seconds()/120)) }
			s := calibrate.Settings{}
			if kind == survey.CalibrateLevel {
				sky.Carriers = []capturetest.Carrier{{At: 9.6501e6, Level: -90}}
				s = calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.65e6, Level: -90, Uncertainty: 1}
			}
			r, err := measure(t, kind, sky, s)
			got := "accepted"
			const drifts = "the receiver drifts: levels changed by "
			switch {
			case err != nil && strings.Contains(err.Error(), drifts) && strings.Contains(err.Error(), "let the dongle run for half an hour, then measure again"):
				got = "refused"
			case err != nil:
				got = err.Error()
			case strings.Contains(strings.Join(r.Doubts, "; "), drifts):
				got = "doubted"
			}
			if !strings.Contains(want, got) {
				t.Errorf("%s, %g dB still to come: %s, want %s", kind, cold, got, want)
			}
		}
	}
}
