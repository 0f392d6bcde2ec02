package survey

import (
	"math"
	"strings"
	"testing"
	"time"
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
		"9400": "no unit; add Hz, kHz or MHz", "": "not a number", "MHz": "not a number", "9,4 MHz": `frequency "9,4 MHz": not a number; write 9.4 with a point`,
		"9,400 kHz": "the comma may part thousands; write 9400 or 9.400", "1.234,5 kHz": "not a number with a unit; write it as 9400kHz or 9.4MHz", "1,234,5 kHz": "with a unit",
		"nan MHz": "not a number", "inf kHz": "not a number", "1e308 kHz": "not a number", "9.4 mm": "not a number",
	} {
		if _, err := ParseFrequency(text, 0); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q in it", text, err, want)
		}
	}
}

// A sample rate takes the units of frequencies and those of samples a second; an error shows a
// rate, and that of a frequency what the caller asks for.
func TestRates(t *testing.T) {
	for _, text := range []string{"2.4MS/s", "2.4 MS/s", "2400kS/s", "2400000 S/s", "2.4Msps", "2400 ksps", "2400000sps", "2.4 MHz", "2400kHz", "2400000 Hz"} {
		if got, err := ParseRate(text, 0); err != nil || math.Abs(float64(got-2.4e6)) > 1e-9 { // Hz: roundings of a double
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	if got, err := ParseRate("2400000", 1); err != nil || got != 2.4e6 {
		t.Errorf("bare: %v, %v", got, err)
	}
	for text, want := range map[string]string{
		"1.6":       `sample rate "1.6": no unit; add Hz, kHz or MHz`,
		"1,6 MS/s":  `sample rate "1,6 MS/s": not a number; write 1.6 with a point`,
		"2.4 Mbaud": `sample rate "2.4 Mbaud": not a number with a unit; write it as 2.4MHz or 2.4MS/s`,
	} {
		if got, err := ParseRate(text, 0); err == nil || err.Error() != want || got != 0 {
			t.Errorf("%q: %v, %v; want %q", text, got, err, want)
		}
	}
	if _, err := ParseFrequencyAs("230 V", 0, `"50 Hz"`); err == nil || err.Error() != `frequency "230 V": not a number with a unit; write it as "50 Hz"` {
		t.Error(err)
	}
	if _, err := ParseFrequency("50 S/s", 0); err == nil {
		t.Error("a frequency counts no samples")
	}
}

// A number has its unit, which a caller may let people leave out.
func TestNumbersWithUnit(t *testing.T) {
	for _, text := range []string{"20.7", "20.7 dB", "20.7dB", " 20.7 db "} {
		if got, err := ParseNumber(text, "dB", "28", true); err != nil || got != 20.7 {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	if got, err := ParseNumber("−1.5 ppm", "ppm", "1.5", false); err != nil || got != -1.5 {
		t.Errorf("%v, %v", got, err)
	}
	for text, want := range map[string]string{
		"3": `not a number with the unit ppm; write it as "3 ppm"`, "-3": `write it as "-3 ppm"`, "3 dB": `write it as "1.5 ppm"`, "": `write it as "1.5 ppm"`,
		"nan ppm": `write it as "1.5 ppm"`, "inf": `write it as "1.5 ppm"`, "1,5 ppm": "not a number; write 1.5 with a point",
	} {
		if got, err := ParseNumber(text, "ppm", "1.5", false); err == nil || !strings.Contains(err.Error(), want) || got != 0 {
			t.Errorf("%q: %v, %v; want %q", text, got, err, want)
		}
	}
}

// Lengths of time are written as people write them, and refused in our words.
func TestDurations(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"5m": 5 * time.Minute, "5 min": 5 * time.Minute, "5min": 5 * time.Minute, "2 h": 2 * time.Hour, "30 s": 30 * time.Second, "500 ms": 500 * time.Millisecond,
		"1h30m": 90 * time.Minute, "1 h 30 min": 90 * time.Minute, "0.5s": 500 * time.Millisecond, "-5s": -5 * time.Second, "0": 0, " 90m ": 90 * time.Minute,
	} {
		if got, err := ParseDuration(text); err != nil || got != want {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"5 minutes": "not a length of time; write it as 500ms, 90s, 5m or 1h30m", "": "not a length of time; write", "long": "not a length of time; write", "5minmin": "not a length",
		"5": "no unit; write it as 500ms, 90s, 5m or 1h30m", "0,5 s": "not a number; write 0.5 with a point", "99999999h": "not a length of time",
	} {
		got, err := ParseDuration(text)
		if err == nil || !strings.HasPrefix(err.Error(), want) || strings.Contains(err.Error(), "time:") || got != 0 {
			t.Errorf("%q: %v, %v; want %q", text, got, err, want)
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
