package survey

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// scales are the units of frequency that people write, longest first.
var scales = []struct {
	unit  string
	scale Hz
}{{"ghz", 1e9}, {"mhz", 1e6}, {"khz", 1e3}, {"hz", 1}}

// ParseFrequency reads a frequency with its unit, as in "9.4 MHz" or "9400kHz".
// A bare number takes the unit bare; where bare is 0 it is refused, and the
// error names the units.
func ParseFrequency(text string, bare Hz) (Hz, error) {
	number, scale := strings.ToLower(strings.TrimSpace(text)), bare
	for _, s := range scales {
		if cut, ok := strings.CutSuffix(number, s.unit); ok {
			number, scale = strings.TrimSpace(cut), s.scale
			break
		}
	}
	f, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || math.IsNaN(f) || math.IsInf(f*1e9, 0): // the largest unit is GHz
		return 0, fmt.Errorf("frequency %q: not a number with a unit; write it as 9400kHz or 9.4MHz", text)
	case scale == 0:
		return 0, fmt.Errorf("frequency %q: no unit; add Hz, kHz or MHz", text)
	}
	return Hz(f) * scale, nil
}
