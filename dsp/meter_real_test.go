package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// Real receivers' recordings of bursts: between the bursts the noise lies below
// the averaged spectrum's median (reference values that came with the
// recordings), which the bursts fill for part of the time.
func TestRealRecordings(t *testing.T) {
	for _, test := range []struct {
		name   string
		rate   float64
		median float64 // dBFS/Hz
	}{
		{"adsb_1090M_2M0_rtl.cu8", 2e6, -80.539},
		{"wmbus_868.950M_1M6_rtl.cu8", 1.6e6, -81.905},
	} {
		iq := dsptest.RealRecording(t, test.name)
		low, high := spectrum.Usable(test.rate)
		m, err := NewMeter(MeterOptions{Rate: test.rate, Samples: int64(len(iq) / 2), Bands: []spectrum.Band{{Low: low, High: high}}})
		if err != nil {
			t.Fatal(err)
		}
		m.WriteU8(iq)
		got, err := m.Finish()
		if err != nil {
			t.Fatal(err)
		}
		b := got.Bands[0]
		if b.Floor == nil {
			t.Errorf("%s: no floor", test.name)
			continue
		}
		t.Logf("%s: floor %.2f ± %.3f, quiet %.2f dBFS/Hz, occupancy %.2f, %d carriers, %d of %d frames left out", test.name,
			10*math.Log10(b.Floor.Density), b.Floor.Sigma, 10*math.Log10(b.Floor.Quiet), b.Occupancy, len(b.Carriers), got.Left, got.Left+got.Frames)
		// The passband's edges, left out here, roll off by a few dB: the
		// quiet level within lies under the median of all, by 5 dB at most.
		if quiet := 10 * math.Log10(b.Floor.Quiet); quiet > test.median || quiet < test.median-5 {
			t.Errorf("%s: quiet level %.2f dBFS/Hz; the median with bursts is %.2f", test.name, quiet, test.median)
		}
		// Packets are foreign transmissions, not noise of the place: the floor
		// is not the mean with them, which stands over that median within the
		// usable passband.
		if floor := 10 * math.Log10(b.Floor.Density); test.rate == 2e6 && floor > test.median-1 {
			t.Errorf("%s: floor %.2f dBFS/Hz holds the packets", test.name, floor)
		}
		if b.Floor.Quiet > b.Floor.Density {
			t.Errorf("%s: bursts, and the quiet level is over the floor", test.name)
		}
	}
}
