package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// notched gives noise with bands left out, so many dB lower.
func notched(depth float64, bands ...spectrum.Band) func(hz float64) float64 {
	return func(hz float64) float64 {
		for _, b := range bands {
			if hz > b.Low && hz < b.High {
				return stat.FromDB(-92 - depth)
			}
		}
		return stat.FromDB(-92)
	}
}

// A band left out of a raised floor is found, whether wide or narrow, with stations on
// its sides or not.
func TestNotches(t *testing.T) {
	for _, test := range fewerIfShort(1, []struct {
		band      spectrum.Band
		occupancy float64
	}{{spectrum.Band{Low: 9.6e6, High: 9.75e6}, 0}, {spectrum.Band{Low: 9.6e6, High: 9.65e6}, 0}, {spectrum.Band{Low: 9.6e6, High: 9.75e6}, 0.3}}) {
		s := dsptest.New(6, 1.024e6, sceneCentre).Shaped(notched(12, test.band))
		s.Stations(9.4e6, 9.9e6, test.occupancy, 1e-10)
		other := spectrum.Band{Low: 9.8e6, High: 9.85e6}
		f := findingsIn(t, s, 0.5, interference.Options{Quiet: []spectrum.Band{other, test.band}})
		if len(f.Notches) != 1 || f.Notches[0].Band != test.band || f.Notches[0].P > 1e-6 {
			t.Errorf("%+v: %+v", test, f.Notches)
			continue
		}
		// The shape's filter fills a little in; rounding to 8 bits adds −117 dBFS/Hz.
		if db := 10 * math.Log10(f.Notches[0].Strength); math.Abs(db+12) > 1 {
			t.Errorf("%+v: %.1f dB, want −12 ± 1", test, db)
		}
		if len(f.Humps) > 0 {
			t.Errorf("%+v: humps beside it: %+v", test, f.Humps)
		}
	}
}

// What is no notch: a band without stations amid crowded ones, one lower by 4 dB, one
// whose floor steps elsewhere, or on one side only.
func TestNoNotches(t *testing.T) {
	dsptest.SkipIfShort(t)
	band := spectrum.Band{Low: 9.6e6, High: 9.7e6}
	crowd := func() *dsptest.Signal { return dsptest.New(7, 1.024e6, sceneCentre).Noise(1e-10) }
	shaped := func(shape func(hz float64) float64) *dsptest.Signal {
		return dsptest.New(8, 1.024e6, sceneCentre).Shaped(shape)
	}
	for _, test := range fewerIfShort(1, []struct {
		name string
		s    *dsptest.Signal
	}{
		{"4 dB", shaped(notched(4, band))},
		{"empty amid stations", crowd().Stations(9.4e6, 9.6e6, 0.9, 1e-10).Stations(9.7e6, 9.9e6, 0.9, 1e-10)},
		{"wider by 60 kHz", shaped(notched(12, spectrum.Band{Low: 9.57e6, High: 9.73e6}))},
		{"one side", shaped(notched(12, spectrum.Band{Low: 9.6e6, High: 10.5e6}))},
	}) {
		if n := findingsIn(t, test.s, 0.5, interference.Options{Quiet: []spectrum.Band{band}}).Notches; len(n) > 0 {
			t.Errorf("%s: %+v", test.name, n)
		}
	}
}
