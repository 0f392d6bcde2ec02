package survey

import (
	"math"
	"testing"
)

func TestFrequencyAsText(t *testing.T) {
	for _, test := range []struct {
		f    Hz
		want string
	}{
		{9.4e6, "9.4 MHz"}, {9.650001e6, "9.650001 MHz"}, {28.8e6, "28.8 MHz"}, {100e6, "100 MHz"},
		{5e3, "5 kHz"}, {65012, "65.012 kHz"}, {120, "120 Hz"}, {0, "0 Hz"}, {-120.5, "-120.5 Hz"}, {-0.0001, "0 Hz"},
		{0.05, "0.05 Hz"},
		// 868 416 666.7 Hz is 868.4166667 MHz; in floating point the quotient has a tail.
		{868416666.7, "868.4166667 MHz"}, {1090666666.6666667, "1090.6666667 MHz"},
		// 0.1 Hz: rounding must not write 1000 kHz for 1 MHz.
		{999999.96, "1 MHz"}, {999999.9, "999.9999 kHz"}, {999.96, "1 kHz"}, {5351500.000000001, "5.3515 MHz"},
	} {
		if got := test.f.String(); got != test.want {
			t.Errorf("%v Hz: %q, want %q", float64(test.f), got, test.want)
		}
	}
}

func TestReceiverText(t *testing.T) {
	for described, want := range map[string]string{
		"Generic, R820T, serial 7, 1600000 samples/s (rtlsdr:serial=7)": "Generic, R820T, serial 7, 1.6 MS/s (rtlsdr:serial=7)",
		"Generic, 2399999 samples/s (rtlsdr:)":                          "Generic, 2.399999 MS/s (rtlsdr:)",
		"recording night.cu8, 250000 samples/s (file:night.cu8)":        "recording night.cu8, 250 kS/s (file:night.cu8)",
		"simulated house, seed 1":                                       "simulated house, seed 1",
	} {
		if got := ReceiverText(described); got != want {
			t.Errorf("%s: %s, want %s", described, got, want)
		}
	}
}

func TestLevels(t *testing.T) {
	const tol = 1e-9 // of plain arithmetic in double precision
	// −100 dBFS/Hz over 9 kHz: 10·log10(9000) = 39.542 dB more.
	if got := DBFSPerHz(-100).In(9e3); math.Abs(float64(got)-(-100+39.542425094393)) > tol {
		t.Errorf("−100 dBFS/Hz in 9 kHz: %v", got)
	}
	if got := DBFS(-30).Over(-36); got != 6 {
		t.Errorf("−30 over −36 dBFS: %v dB, want 6", got)
	}
	if got := DBFSPerHz(-98).Over(-101); got != 3 {
		t.Errorf("−98 over −101 dBFS/Hz: %v dB, want 3", got)
	}
	for _, power := range []float64{1, 1e-12, 3.7} {
		level, ok := LevelOf(power)
		if !ok || math.Abs(level.Linear()/power-1) > 1e-12 {
			t.Errorf("power %g: level %v (%v), back %g", power, level, ok, level.Linear())
		}
	}
	for _, power := range []float64{0, -1e-9, math.NaN()} {
		if level, ok := LevelOf(power); ok {
			t.Errorf("power %g has the level %v", power, level)
		}
	}
}
