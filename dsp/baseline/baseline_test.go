package baseline

import (
	"math"
	"testing"

	"nightfloor/dsp/stat"
)

// baselineOf fits the noise of a spectrum without scatter that stands dB(Hz from the
// middle) over 0, in 680 kHz of bins of 62.5 Hz, of so many looks as the fit believes;
// it gives the fit in dB.
func baselineOf(t *testing.T, looks float64, dB func(hz float64) float64) func(hz float64) float64 {
	const bins, width = 10880, 62.5
	power, noise := make([]float64, bins), make([]float64, bins)
	for b := range power {
		power[b] = stat.FromDB(dB((float64(b) + 0.5 - bins/2) * width))
	}
	l := New(bins, width)
	if !l.Fit(power, make([]bool, bins), looks) {
		t.Fatal("nothing to fit")
	}
	l.Level(noise)
	return func(hz float64) float64 { return 10 * math.Log10(noise[int(hz/width)+bins/2]) }
}

// The baseline follows what noise does and passes under what signals do, however
// few looks there are.
func TestBaselineFollowsNoise(t *testing.T) {
	for _, looks := range []float64{5, 29, 300} {
		for _, test := range []struct {
			name      string
			dB        func(hz float64) float64
			isNoise   bool
			tolerance float64
		}{
			{"hump 12 dB, 100 kHz", func(hz float64) float64 { return 12 * math.Exp2(-4*(hz/100e3)*(hz/100e3)) }, true, 0.3},
			{"step 6 dB", func(hz float64) float64 { return 3 * math.Copysign(1, hz-4e3) }, true, 0.3},
			{"block 6 dB, 100 kHz", func(hz float64) float64 { return 6 * unit(math.Abs(hz) < 50e3) }, true, 0.3},
			{"block 6 dB, 40 kHz", func(hz float64) float64 { return 6 * unit(math.Abs(hz) < 20e3) }, false, 0.3},
			// Narrower than 15 kHz it is a station or two whatever its height, broader it is
			// noise unless it is 4.5 dB high.
			// 80 kHz of it belong together: its sides are 1 dB lower than its middle.
			{"block 6 dB, 40 kHz, with sides", func(hz float64) float64 {
				return 5*unit(math.Abs(hz) < 40e3) + unit(math.Abs(hz) < 20e3)
			}, true, 0.3},
			{"block 3 dB, 24 kHz", func(hz float64) float64 { return 3 * unit(math.Abs(hz) < 12e3) }, true, 0.3},
			{"block 3 dB, 14 kHz", func(hz float64) float64 { return 3 * unit(math.Abs(hz) < 7e3) }, false, 0.3},
			{"summit 10 dB, 0.2 dB/kHz", func(hz float64) float64 { return max(0, 10-0.2e-3*math.Abs(hz)) }, true, 0.6},
			{"block 6 dB, 10 kHz", func(hz float64) float64 { return 6 * unit(math.Abs(hz) < 5e3) }, false, 0.3},
			// Its flanks fall by 0.6 dB/kHz, a group by half of what single groups
			// of five looks may differ.
			{"summit 18 dB, 60 kHz", func(hz float64) float64 { return max(0, 18-0.6e-3*math.Abs(hz)) }, false, 1},
		} {
			fit := baselineOf(t, looks, test.dB)
			for _, hz := range []float64{-300e3, -150e3, 0, 8e3, 150e3, 300e3} {
				want := 0.0
				if test.isNoise || math.Abs(hz) > 100e3 {
					want = test.dB(hz)
				}
				if got := fit(hz); math.Abs(got-want) > test.tolerance {
					t.Errorf("%s, %v looks, %+.0f kHz: %.2f dB, want %.2f", test.name, looks, hz/1e3, got, want)
				}
			}
		}
	}
}

// Flanks of 0.32 dB/kHz, 0.184 Np a group, are steeper than noise's, of 0.144. A group of 29
// looks errs by 0.041, so that two may differ by 0.20 more, 3.5 times √2 of that: from one group
// to the next it may be noise, over eight groups, 0.32 Np too much, it is not.
func TestFlankIsAskedForAsAWhole(t *testing.T) {
	fit := baselineOf(t, 29, func(hz float64) float64 { return max(0, 14-0.32e-3*math.Abs(hz)) })
	if got := fit(0); math.Abs(got) > 0.3 {
		t.Errorf("a summit of 14 dB is taken for noise of %.2f dB", got)
	}
}

// Stations up to 14 kHz wide and hardly higher than noise are signals also where the noise
// steps: steps are told from their edges.
func TestStationsBesideAStep(t *testing.T) {
	for _, test := range []struct{ width, height, step float64 }{{12e3, 2, 10e3}, {14e3, 2, 0}, {14e3, 3, 10e3}} {
		noise := func(hz float64) float64 { return 3 * unit(hz > test.step) }
		fit := baselineOf(t, 29, func(hz float64) float64 {
			return noise(hz) + test.height*unit(math.Abs(hz-50e3*math.Round(hz/50e3)) < test.width/2)
		})
		for hz := -300e3; hz <= 300e3; hz += 25e3 {
			if math.Abs(hz-test.step) < 12e3 {
				continue // a station lies on the step
			}
			if got := fit(hz); math.Abs(got-noise(hz)) > 0.3 {
				t.Errorf("stations of %.0f dB, %v Hz wide, %+.0f kHz: %.2f dB, want %.0f", test.height, test.width, hz/1e3, got, noise(hz))
			}
		}
	}
}

// Noise that is a little higher over some tens of kilohertz steps at either end, and stations
// beside may hide how high: the step may be 1 dB at least, but no more than is seen of it, lest
// the course follows the edges of stations.
func TestLowStepsBesideStations(t *testing.T) {
	for _, test := range []struct{ looks, width, height, station, over, at, hz, tolerance float64 }{
		{29, 41e3, 1.5, 12e3, 6, -79e3, -62.5e3, 0.1},
		{300, 82e3, 2, 4e3, 4.5, -93e3, -95e3, 0.235},
	} {
		noise := func(hz float64) float64 { return test.height * unit(hz > -100e3 && hz < -100e3+test.width) }
		fit := baselineOf(t, test.looks, func(hz float64) float64 {
			return noise(hz) + test.over*unit(math.Abs(math.Abs(hz+50e3)-math.Abs(test.at+50e3)) < test.station/2)
		})
		if got := fit(test.hz) - noise(test.hz); math.Abs(got) > test.tolerance {
			t.Errorf("noise up by %v dB over %v Hz, stations of %v dB: %.2f dB off", test.height, test.width, test.over, got)
		}
	}
}

// unit is 1 where it is so, else 0.
func unit(so bool) float64 {
	if so {
		return 1
	}
	return 0
}
