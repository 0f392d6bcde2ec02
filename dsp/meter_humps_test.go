package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/stat"
)

// Humps come out where they are, as high as they are.
func TestHumps(t *testing.T) {
	for _, test := range fewerIfShort(1, []struct {
		rate          float64
		height, width float64 // dB, Hz at half of it
		occupancy     float64
	}{
		{1.024e6, 6, 100e3, 0}, {2.4e6, 3, 100e3, 0}, {1.024e6, 8, 120e3, 0.3}, {1.024e6, 5, 75e3, 0},
		{2.4e6, 6, 400e3, 0}, {1.024e6, 5, 200e3, 0},
	}) {
		const middle = sceneCentre + 60e3
		s := dsptest.New(3, test.rate, sceneCentre).Shaped(humpOf(-97, test.height, middle, test.width))
		s.Stations(9.4e6, 9.9e6, test.occupancy, stat.FromDB(-97))
		humps := findingsIn(t, s, 0.5, interference.Options{}).Humps
		if len(humps) != 1 || humps[0].P > 2e-4 {
			t.Errorf("%+v: %+v", test, humps)
			continue
		}
		h := humps[0]
		// A parabola may take a part of what fills a third of the passband.
		low := test.height - 0.5 - 2.5*test.width/(test.rate*2/3)
		if db := 10 * math.Log10(h.Strength); db < low || db > test.height+0.6 {
			t.Errorf("%+v: %.1f dB", test, db)
		}
		// 5 kHz cells, three to a mean; a part of a wide one's foot is the curve's.
		off := 12e3 + 0.12*test.width
		if math.Abs(h.Low-middle+test.width/2) > off || math.Abs(h.High-middle-test.width/2) > off {
			t.Errorf("%+v: from %.0f to %.0f kHz", test, h.Low/1e3, h.High/1e3)
		}
	}
}

// Two humps are two.
func TestTwoHumps(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: a long signal at 2.4 MS/s")
	}
	one, two := humpOf(-97, 7, sceneCentre-400e3, 150e3), humpOf(-97, 5, sceneCentre+300e3, 200e3)
	s := dsptest.New(4, 2.4e6, sceneCentre).Shaped(func(hz float64) float64 { return one(hz) * two(hz) / stat.FromDB(-97) })
	humps := findingsIn(t, s, 0.5, interference.Options{}).Humps
	if len(humps) != 2 {
		t.Errorf("%+v", humps)
	}
}

// What is no hump: lower than 2.5 dB, narrower than 60 kHz, at the edge of the passband,
// a step, a hole, mostly hidden by stations.
func TestNoHumps(t *testing.T) {
	dsptest.SkipIfShort(t)
	for _, test := range fewerIfShort(2, []struct {
		name  string
		shape func(hz float64) float64
	}{
		{"1.5 dB", humpOf(-97, 1.5, sceneCentre, 100e3)},
		{"30 kHz", humpOf(-97, 6, sceneCentre, 30e3)},
		{"block of 50 kHz", blockOf(-97, 4, sceneCentre+50e3, 50e3)},
		{"at the edge", humpOf(-97, 8, sceneCentre+340e3, 150e3)},
		{"hole", func(hz float64) float64 { return 1e-18 / blockOf(-90, 10, sceneCentre-20e3, 150e3)(hz) }},
		{"step", func(hz float64) float64 { return stat.FromDB(-97 + 5*math.Tanh((hz-sceneCentre)/20e3)) }},
	}) {
		s := dsptest.New(5, 1.024e6, sceneCentre).Shaped(test.shape)
		for _, h := range findingsIn(t, s, 0.5, interference.Options{}).Humps {
			if interference.Confidence(h.P) >= 0.999 {
				t.Errorf("%s: %+v", test.name, h)
			}
		}
	}
}
