package comb

import (
	"math"
	"testing"
)

// levelView gives a view of noise of level 1 with level 10 in the columns from … to−1, of
// so many looks that it does not scatter.
func levelView(from, to int) *View {
	power := make([]float64, 8192)
	for b := range power {
		power[b] = 1
		if b >= from && b < to {
			power[b] = 10
		}
	}
	return newViewOfPowers(power, 9.3e6, 73.24, 1.5, 1e6, 9.31e6)
}

// The local noise does not follow what is narrower than half a station with its sidebands,
// 4.7 kHz, but what is wider.
func TestNoiseOfView(t *testing.T) {
	const block = 41
	for _, test := range []struct {
		columns int
		want    float64
	}{{28, 1}, {60, 10}} { // 2.1 and 4.4 kHz
		from := block*64 + 32 - test.columns/2
		if got := levelView(from, from+test.columns).noiseAt(block*64 + 32); math.Abs(got/test.want-1) > 0.1 {
			t.Errorf("%d columns raised: noise %.2f, want %.0f", test.columns, got, test.want)
		}
	}
	// The lower floor follows what fills three quarters of ±50 kHz, and nothing less.
	for _, test := range []struct{ reach, want float64 }{{30e3, 1}, {45e3, 10}} {
		columns := int(test.reach / 73.24)
		if got := levelView(4096-columns, 4096+columns).lowerFloor(4096); math.Abs(got/test.want-1) > 0.1 {
			t.Errorf("±%.0f kHz raised: lower floor %.2f, want %.0f", test.reach/1e3, got, test.want)
		}
	}
}

// The DC spike's columns are the receiver's own within 1 kHz, those of a clock at 9.6 MHz
// within 60 ppm and two columns: 576 Hz + 146 Hz.
func TestOwnColumns(t *testing.T) {
	v := levelView(0, 0)
	for _, test := range []struct {
		centre, hz float64
		own        bool
	}{{9.31e6, 900, true}, {9.31e6, 1100, false}, {9.6e6, 640, true}, {9.6e6, 820, false}, {9.75e6, 640, true}, {9.7e6, 0, false}} {
		for _, side := range []float64{-1, 1} {
			if got := v.ownAt(int(math.Round(v.column(test.centre + side*test.hz)))); got != test.own {
				t.Errorf("%v Hz from %v MHz: the receiver's own %v, want %v", side*test.hz, test.centre/1e6, got, test.own)
			}
		}
	}
}
