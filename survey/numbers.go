package survey

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// A unit is a unit of frequency that people write, in small letters.
type unit struct {
	name  string
	scale Hz
}

// Units of frequencies and of sample rates, each before those that it ends with.
var (
	frequencyUnits = []unit{{"ghz", 1e9}, {"mhz", 1e6}, {"khz", 1e3}, {"hz", 1}}
	rateUnits      = append([]unit{{"ms/s", 1e6}, {"ks/s", 1e3}, {"s/s", 1}, {"msps", 1e6}, {"ksps", 1e3}, {"sps", 1}}, frequencyUnits...)
)

// cutUnit takes the unit off a frequency; without one it is bare.
func cutUnit(text string, units []unit, bare Hz) (number string, scale Hz) {
	number = strings.ToLower(strings.TrimSpace(text))
	for _, u := range units {
		if cut, ok := strings.CutSuffix(number, u.name); ok {
			return strings.TrimSpace(cut), u.scale
		}
	}
	return number, bare
}

// ParseFrequency reads a frequency with its unit, as in "9.4 MHz" or "9400kHz".
// A bare number takes the unit bare; where bare is 0 it is refused, and the
// error names the units.
func ParseFrequency(text string, bare Hz) (Hz, error) {
	return ParseFrequencyAs(text, bare, "9400kHz or 9.4MHz")
}

// ParseFrequencyAs is ParseFrequency with an example of what is asked for.
func ParseFrequencyAs(text string, bare Hz, example string) (Hz, error) {
	return parseHz("frequency", text, frequencyUnits, bare, example)
}

// ParseRate reads a sample rate, as in "2.4MHz", "2.4 MS/s" or "2400ksps"; a bare number as
// ParseFrequency does.
func ParseRate(text string, bare Hz) (Hz, error) {
	return parseHz("sample rate", text, rateUnits, bare, "2.4MHz or 2.4MS/s")
}

func parseHz(what, text string, units []unit, bare Hz, example string) (Hz, error) {
	number, scale := cutUnit(text, units, bare)
	f, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || math.IsNaN(f) || math.IsInf(f*1e9, 0): // the largest unit is GHz
		return 0, fmt.Errorf("%s %q: %w", what, text, notANumber(text, "not a number with a unit; write it as "+example))
	case scale == 0:
		return 0, fmt.Errorf("%s %q: no unit; add Hz, kHz or MHz", what, text)
	}
	return Hz(f) * scale, nil
}

// ParseNumber reads a number with its unit, as in "-60 dBm", and without one where it may be
// bare. The error shows how to write the number that was given, or else the example.
func ParseNumber(text, unit, example string, bare bool) (float64, error) {
	number := strings.TrimSpace(strings.Replace(text, "−", "-", 1))
	start := max(0, len(number)-len(unit))
	has := strings.EqualFold(number[start:], unit)
	if has {
		number = strings.TrimSpace(number[:start])
	}
	x, err := strconv.ParseFloat(number, 64)
	if err == nil && x-x == 0 {
		if has || bare {
			return x, nil
		}
		example = number
	}
	return 0, notANumber(text, fmt.Sprintf("not a number with the unit %s; write it as \"%s %s\"", unit, example, unit))
}

// ParseDuration reads a length of time, as in "90s", "5 min" or "1h30m".
func ParseDuration(text string) (time.Duration, error) {
	const forms = "; write it as 500ms, 90s, 5m or 1h30m"
	plain := strings.ReplaceAll(strings.ReplaceAll(text, " ", ""), "min", "m")
	d, err := time.ParseDuration(plain)
	if err == nil {
		return d, nil
	}
	if _, err := strconv.ParseFloat(plain, 64); err == nil {
		return 0, errors.New("no unit" + forms)
	}
	return 0, notANumber(text, "not a length of time"+forms)
}

// commaNumber is a number with one comma and no point, and what stands around it.
var commaNumber = regexp.MustCompile(`^[^0-9.,]*([0-9]+),([0-9]+)[^0-9.,]*$`)

// notANumber is the error of a text that is read as a number: how to write one that has a
// comma, or else otherwise.
func notANumber(text, otherwise string) error {
	switch parts := commaNumber.FindStringSubmatch(text); {
	case parts == nil:
		return errors.New(otherwise)
	case len(parts[2]) == 3:
		return fmt.Errorf("not a number: the comma may part thousands; write %s%s or %s.%s", parts[1], parts[2], parts[1], parts[2])
	default:
		return fmt.Errorf("not a number; write %s.%s with a point", parts[1], parts[2])
	}
}
