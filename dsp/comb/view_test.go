package comb

import (
	"math"
	"testing"

	"nightfloor/dsp/fft"
)

// flatView gives a view of noise of level 1 that does not scatter, after change.
func flatView(change func(power []float64)) *View {
	power := make([]float64, 8192)
	for b := range power {
		power[b] = 1
	}
	change(power)
	return newViewOfPowers(power, 9.3e6, 73.24, 1.5, 1e6, 9.31e6)
}

// raise gives the columns from … to−1 a level.
func raise(power []float64, from, to int, level float64) {
	for b := from; b < to; b++ {
		power[b] = level
	}
}

// levelView gives a flat view with level 10 in the columns from … to−1.
func levelView(from, to int) *View {
	return flatView(func(power []float64) { raise(power, from, to, 10) })
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

// Kept are lines of six times the noise that stand 1.5 kHz apart, the stronger of closer
// ones, and none with 2.5 times the noise beside it.
func TestLinesKept(t *testing.T) {
	for _, test := range []struct {
		name         string
		over, second float64 // power over the noise in one resolution, of a line and another
		away         int     // columns from the one to the other
		beside       float64 // times the noise, from 5 to 45 columns from the first
		want         int
	}{
		{"weak", 5, 0, 0, 1, 0}, {"strong enough", 8, 0, 0, 1, 1},
		{"1.2 kHz apart", 100, 50, 16, 1, 1}, {"1.8 kHz apart", 100, 50, 25, 1, 2},
		{"little beside", 100, 0, 0, 2, 1}, {"sidebands beside", 100, 0, 0, 3, 0},
	} {
		v := flatView(func(power []float64) {
			const at = 5000
			raise(power, at-45, at-4, test.beside)
			raise(power, at+5, at+46, test.beside)
			for d := -9; d <= 9; d++ { // both stand between columns, so that no two sums are equal
				power[at+d] += test.over * fft.HannPower(float64(d)-0.3)
				power[at+test.away+d] += test.second * fft.HannPower(float64(d)-0.3)
			}
		})
		var a Accumulator
		if got := a.chooseLines(v); len(got) != test.want {
			t.Errorf("%s: kept at %v, want %d lines", test.name, got, test.want)
		}
	}
}
