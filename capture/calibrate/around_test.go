package calibrate_test

import (
	"math"
	"strings"
	"testing"

	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

// atGenerator measures a generator that is told at 9.652 MHz under a sky.
func atGenerator(t *testing.T, sky capturetest.Sky) (*calibrate.Run, error) {
	t.Helper()
	return measure(t, survey.CalibrateLevel, sky, calibrate.Settings{By: survey.BasisGenerator, Frequency: 9.652e6, Level: -105, Uncertainty: 1})
}

// modulated is a carrier that a tone modulates in amplitude by some depth.
func modulated(at survey.Hz, level survey.DBm, tone survey.Hz, depth float64) []capturetest.Carrier {
	side := level + survey.DBm(20*math.Log10(depth/2))
	return []capturetest.Carrier{{At: at, Level: level}, {At: at - tone, Level: side}, {At: at + tone, Level: side}}
}

// A carrier that is modulated in amplitude is a broadcaster's: a generator's is clean, also where noise stands 20 dB
// under it in what a programme takes up.
func TestModulatedCarrierIsNoGenerator(t *testing.T) {
	for _, test := range []struct {
		depth   float64
		tone    survey.Hz
		over    survey.DBm // the carrier over its usual level
		refused bool
	}{
		{0, 1000, 0, false}, {0, 1000, -8, false}, {0, 1000, -16, false}, {0.18, 1000, 0, false}, {0.25, 1000, 0, true}, {0.3, 200, 0, true}, {0.5, 3000, 0, true},
	} {
		sky := ownSky(8)
		sky.Carriers = []capturetest.Carrier{{At: 9.65e6, Level: -105 + test.over}}
		if test.depth > 0 {
			sky.Carriers = modulated(9.65e6, -105, test.tone, test.depth)
		}
		r, err := atGenerator(t, sky)
		if refused := err != nil && strings.Contains(err.Error(), "is modulated"); refused != test.refused || !refused && (err != nil || len(r.Levels) == 0) {
			t.Errorf("%+v: %v", test, err)
		}
	}
}

// Stations about the generator's frequency show that an antenna is connected, whatever the carrier there is: four on the
// raster in what is seen with it, on either side. Other lines do not, nor do stations that are farther away.
func TestStationsAboutTheGenerator(t *testing.T) {
	for _, test := range []struct {
		name    string
		lines   []survey.Hz
		refused bool
	}{
		{"none", nil, false},
		{"stations on both sides", []survey.Hz{9.23e6, 9.545e6, 9.7e6, 9.825e6, 9.98e6}, true},
		{"stations above", []survey.Hz{9.7e6, 9.735e6, 9.825e6, 9.98e6}, true},
		{"stations and the carrier on the raster", []survey.Hz{9.65e6, 9.7e6, 9.735e6, 9.825e6}, true},
		{"lines that are none", []survey.Hz{9.7012e6, 9.7391e6, 9.8244e6, 9.9833e6, 9.2337e6}, false},
		{"stations out of sight", []survey.Hz{12.02e6, 11.7e6, 11.735e6, 11.825e6}, false},
	} {
		sky := ownSky(8)
		sky.Rate = 2.4e6
		sky.Carriers = []capturetest.Carrier{{At: 9.6521e6, Level: -105}}
		for i, f := range test.lines {
			sky.Carriers = append(sky.Carriers, capturetest.Carrier{At: f, Level: -122 - survey.DBm(i)})
		}
		_, err := atGenerator(t, sky)
		if refused := err != nil && strings.Contains(err.Error(), "stand on the raster of broadcasters: an antenna seems to be connected"); refused != test.refused || err != nil && !refused {
			t.Errorf("%s: %v", test.name, err)
		}
	}
}

// Where the carrier was found is said, and stored: the receiver's clock may be off, or another carrier is taken for the
// generator's.
func TestGeneratorFoundElsewhere(t *testing.T) {
	for off, said := range map[survey.Hz]string{10e3: ", found at 9.662 MHz, 10 kHz higher, by the receiver's clock", -150: "", -2e3: ", found at 9.65 MHz, 2 kHz lower, by the receiver's clock"} {
		sky := ownSky(8)
		sky.Carriers = []capturetest.Carrier{{At: 9.652e6 + off, Level: -105}}
		r, err := atGenerator(t, sky)
		if err != nil || strings.Contains(r.Note, ", found at") != (said != "") || !strings.Contains(r.Note, "at 9.652 MHz"+said) || math.Abs(float64(r.Found-9.652e6-off)) > 5 {
			t.Errorf("%v off: %v, %+v", off, err, r.Note)
		}
	}
}
