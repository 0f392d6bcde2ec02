package rtlsdr

import (
	"slices"
	"strings"
)

// The driver reports some things on standard error and nowhere else, above all that a
// tuner does not lock.
var standardError driverOutput

// A driverOutput is what the driver has printed since it was last read; nothing where
// standard error was not caught.
type driverOutput struct {
	fd     int
	caught bool
}

// notLocked tells whether the driver said that the tuner's synthesiser does not
// lock: "[R82XX] PLL not locked!", "[E4K] PLL not locked …".
func notLocked(lines []string) bool {
	return slices.ContainsFunc(lines, func(l string) bool { return strings.Contains(l, "PLL not locked") })
}
