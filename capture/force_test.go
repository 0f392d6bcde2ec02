package capture_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/capture/force"
	"nightfloor/survey"
)

var fresh = flag.Bool("fresh", false, "run statistical tests with fresh seeds")

// measured gives a reading of the lower segment under a sky: 0.1 s, gain 30 dB.
func measured(t *testing.T, sky capturetest.Sky) survey.Reading {
	t.Helper()
	source := record(sky, whip, 6.03e6-45e3, 30, time.Unix(0, 0), 25_000)
	readings, err := capture.Measure(t.Context(), source, []survey.Segment{lower}, 1)
	if err != nil {
		t.Fatal(err)
	}
	return readings[0]
}

func mean(s *survey.Spectrum) float64 {
	var sum float64
	for _, d := range s.Density {
		sum += survey.DBFSPerHz(d).Linear()
	}
	return sum / float64(len(s.Density))
}

// Merging bins keeps the mean density, the place of things, and the meaning of
// ENBW and Looks.
func TestCoarsen(t *testing.T) {
	r := measured(t, capturetest.Sky{Floor: -120})
	whole := r.Spectrum
	if got := capture.Coarsen(whole, len(whole.Density)); got != whole {
		t.Error("a spectrum that is short enough was changed")
	}
	if capture.Coarsen(nil, 10) != nil {
		t.Error("no spectrum became one")
	}
	for _, most := range []int{len(whole.Density) - 1, 200, 100, 7} {
		got := capture.Coarsen(whole, most)
		n := len(got.Density)
		merged := int(math.Round(float64(got.Step / whole.Step)))
		if n > most || n < most/2 {
			t.Errorf("%d bins of %d, at most %d wanted", n, len(whole.Density), most)
		}
		// What does not fill a bin is cut off; of the rest the mean stays, but for float32.
		kept := &survey.Spectrum{Density: whole.Density[:n*merged]}
		if a, b := mean(got), mean(kept); math.Abs(a/b-1) > 1e-5 {
			t.Errorf("%d bins: mean density %.4g, before %.4g", n, a, b)
		}
		if want := whole.First + whole.Step*survey.Hz(merged-1)/2; math.Abs(float64(got.First-want)) > 1e-3 {
			t.Errorf("%d bins: the first at %v, want %v", n, got.First, want)
		}
		if a, b := got.ENBW*float64(got.Step), whole.ENBW*float64(whole.Step); math.Abs(a/b-1) > 1e-9 {
			t.Errorf("%d bins: a line of density 1 has power %v, before %v", n, a, b)
		}
		// Neighbouring Hann bins tell the same in part: 2 are worth 2/(1+4/9) looks.
		if got.Looks <= whole.Looks || got.Looks > whole.Looks*float64(merged) {
			t.Errorf("%d bins: %v looks, %v before", n, got.Looks, whole.Looks)
		}
	}
}

// Measured by force at a known frequency, a line's power comes out right in the
// mean and within its stated error: strong, weak, and not there at all; in the
// spectrum as measured and as stored.
func TestForcedPowerIsUnbiased(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	const trials = 60
	base := uint64(20261103)
	if *fresh {
		base = rand.Uint64()
	}
	t.Logf("seed %d", base)
	for _, level := range []survey.DBm{-70, -97, -200} { // 27 dB over the noise in 183 Hz, 0.4 dB, nothing
		for _, bins := range []int{1 << 20, 200} {
			var sum, spread, stated float64
			rng := rand.New(rand.NewPCG(base, uint64(bins)))
			for trial := range uint64(trials) {
				line := capturetest.Carrier{At: 6.03e6 + survey.Hz(rng.Float64()*20e3-10e3), Level: level}
				sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{line}, Seed: base + trial}
				r := measured(t, sky)
				r.Spectrum, r.Carriers = capture.Coarsen(r.Spectrum, bins), nil
				force.Measure(&r, []survey.Hz{line.At})
				if len(r.Carriers) != 1 || r.Carriers[0].Detected || !(r.Carriers[0].Sigma > 0) {
					t.Fatalf("%v", r.Carriers)
				}
				off := r.Carriers[0].Power - sky.Power(line, "whip", 30)
				sum += off
				spread += off * off
				stated += r.Carriers[0].Sigma * r.Carriers[0].Sigma
			}
			bias, rms, sigma := sum/trials, math.Sqrt(spread/trials), math.Sqrt(stated/trials)
			truth := capturetest.Sky{}.Power(capturetest.Carrier{Level: level}, "whip", 30)
			t.Logf("%v dBm, %d bins: bias %.2g, rms %.2g, stated %.2g, truth %.2g", level, bins, bias, rms, sigma, truth)
			// 60 trials: the mean scatters by sigma/√60 = 0.13 sigma, four of that (a
			// chance of 4e-4 in six cases); and 1 % of a line for its place between bins.
			if math.Abs(bias) > 0.52*sigma+0.01*truth {
				t.Errorf("%v dBm, %d bins: mean off by %.3g ± %.2g, truth %.3g", level, bins, bias, sigma/math.Sqrt(trials), truth)
			}
			// The error that is stated holds: 60 squares scatter by 9 % in the root, four of that.
			if rms > 1.36*sigma+0.01*truth {
				t.Errorf("%v dBm, %d bins: scatters by %.3g, states %.3g", level, bins, rms, sigma)
			}
		}
	}
}

func TestForceNeedsFloorAndSpectrum(t *testing.T) {
	whole := measured(t, capturetest.Sky{Floor: -120})
	for name, change := range map[string]func(*survey.Reading){
		"no floor":    func(r *survey.Reading) { r.Floor = nil },
		"no spectrum": func(r *survey.Reading) { r.Spectrum = nil },
		"outside": func(r *survey.Reading) {
			r.Spectrum = &survey.Spectrum{First: 9e6, Step: 100, ENBW: 1.5, Looks: 10, Density: make([]float32, 50)}
		},
	} {
		r := whole
		change(&r)
		if force.Measure(&r, []survey.Hz{6.03e6}); len(r.Carriers) != 0 {
			t.Errorf("%s: %v", name, r.Carriers)
		}
	}
}
