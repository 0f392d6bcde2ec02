package survey

import (
	"math"
	"strings"
	"testing"
)

func TestFrequencies(t *testing.T) {
	const tol = 1e-15 // relative: two roundings of a double
	for _, test := range []struct {
		text string
		bare Hz
		want Hz
	}{
		{"9.4 MHz", 0, 9.4e6}, {"9400kHz", 0, 9.4e6}, {" 9400 KHZ ", 0, 9.4e6}, {"9400000Hz", 0, 9.4e6}, {"0.0094GHz", 0, 9.4e6},
		{"9400", 1e3, 9.4e6}, {"9400", 1, 9400}, {"9400 Hz", 1e3, 9400}, {"9.4e3", 1e3, 9.4e6}, {"-5 Hz", 0, -5}, {"50Hz", 0, 50},
	} {
		got, err := ParseFrequency(test.text, test.bare)
		if err != nil || math.Abs(float64(got-test.want)) > tol*math.Abs(float64(test.want)) {
			t.Errorf("%q, bare %v: %v (%v), want %v", test.text, test.bare, got, err, test.want)
		}
	}
	for text, want := range map[string]string{
		"9400": "no unit; add Hz, kHz or MHz", "": "not a number", "MHz": "not a number", "9,4 MHz": "not a number",
		"nan MHz": "not a number", "inf kHz": "not a number", "1e308 kHz": "not a number", "9.4 mm": "not a number",
	} {
		if _, err := ParseFrequency(text, 0); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q in it", text, err, want)
		}
	}
}

func FuzzParseFrequency(f *testing.F) {
	for _, text := range []string{"9.4 MHz", "9400kHz", "1e308GHz", "nan", "-0Hz", "0x1p-2 Hz", "1_0Hz", "ghz"} {
		f.Add(text, 1e3)
	}
	f.Fuzz(func(t *testing.T, text string, bare float64) {
		if !(bare >= 0 && bare <= 1e9) { // what callers give
			return
		}
		got, err := ParseFrequency(text, Hz(bare))
		if err == nil && (math.IsNaN(float64(got)) || math.IsInf(float64(got), 0)) {
			t.Errorf("%q is read as %v", text, got)
		}
		if err != nil && got != 0 {
			t.Errorf("%q: %v besides %v", text, got, err)
		}
	})
}
