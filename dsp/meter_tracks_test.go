package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// measureIQ measures samples in one band.
func measureIQ(t testing.TB, rate float64, x []complex64, b spectrum.Band) BandResult {
	t.Helper()
	m := meterFor(t, rate, len(x), b)
	m.Write(x)
	got, err := m.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return got.Bands[0]
}

var narrowBand = spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3}

// A line that drifts is one line, of its own power, at its mean frequency.
func TestDriftingLine(t *testing.T) {
	const rate = 250e3
	for _, seconds := range fewerIfShort(2, []float64{0.5, 0.7, 2, 5}) {
		for _, drift := range []float64{1, -3, 10} { // Hz a second
			x := dsptest.New(70, rate, sceneCentre).Noise(1e-10).Samples(int(seconds * rate))
			for i := range x {
				at := float64(i) / rate
				sin, cos := math.Sincos(2 * math.Pi * (30_030*at + drift/2*(at-seconds/2)*(at-seconds/2)))
				x[i] += complex64(complex(math.Pow(10, -2.5)*cos, math.Pow(10, -2.5)*sin))
			}
			b := measureIQ(t, rate, x, narrowBand)
			if len(b.Carriers) != 1 {
				t.Errorf("%v s, %v Hz/s: %d lines, want 1: %v", seconds, drift, len(b.Carriers), b.Carriers)
				continue
			}
			// The noise's part is 0.05 dB; of the mean frequency the last half
			// frame, 8 ms at 10 Hz/s, and 1 Hz where the spread summit is read.
			l := b.Carriers[0]
			if e := 10*math.Log10(l.Power) + 50; math.Abs(e) > 0.25 || math.Abs(l.Frequency-sceneCentre-30_030) > 1 {
				t.Errorf("%v s, %v Hz/s: %.2f dB, %.2f Hz off", seconds, drift, e, l.Frequency-sceneCentre-30_030)
			}
		}
	}
}

// A line's level is its mean over the whole recording, also before it stood out:
// one that comes up after half of the time reads 3 dB less than while it lasts.
func TestLateLine(t *testing.T) {
	const rate = 250e3
	x := dsptest.New(71, rate, sceneCentre).Noise(1e-10).Samples(4 * rate)
	for i := len(x) / 2; i < len(x); i++ {
		sin, cos := math.Sincos(2 * math.Pi * 30_030 / rate * float64(i))
		x[i] += complex64(complex(math.Pow(10, -2.5)*cos, math.Pow(10, -2.5)*sin))
	}
	b := measureIQ(t, rate, x, narrowBand)
	if len(b.Carriers) != 1 {
		t.Fatalf("%d lines, want 1: %v", len(b.Carriers), b.Carriers)
	}
	if e := 10*math.Log10(b.Carriers[0].Power) + 53.01; math.Abs(e) > 0.2 {
		t.Errorf("%.2f dB off", e)
	}
}
