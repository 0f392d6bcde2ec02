package rtlsdr

import (
	"fmt"
	"log/slog"
	"strconv"
	"strings"

	"nightfloor/survey"
)

// Options say which dongle is opened, and how it receives.
type Options struct {
	Serial   string    // "": by index
	Index    int       // counts from 0
	Rate     survey.Hz // 0: 2.4 MS/s
	FrontEnd survey.FrontEnd
	Log      *slog.Logger
	Clock    Clock // nil: WallClock
}

const defaultRate = 2.4e6

const usage = "write rtlsdr: for the first dongle, rtlsdr:serial=00000001 or rtlsdr:index=1"

// ParseURI reads rtlsdr:, rtlsdr:serial=TEXT or rtlsdr:index=N.
func ParseURI(uri string) (Options, error) {
	rest, ok := strings.CutPrefix(uri, "rtlsdr:")
	if !ok {
		return Options{}, fmt.Errorf("receiver %q: not a dongle; %s", uri, usage)
	}
	if rest == "" {
		return Options{}, nil
	}
	key, value, _ := strings.Cut(rest, "=")
	switch {
	case key == "serial" && value != "":
		return Options{Serial: value}, nil
	case key == "index":
		if n, err := strconv.ParseUint(value, 10, 16); err == nil {
			return Options{Index: int(n)}, nil
		}
	}
	return Options{}, fmt.Errorf("receiver %q: %q is not understood; %s", uri, rest, usage)
}

// validRate tells whether the chip can run at a rate (trade notes, 7.1).
func validRate(rate survey.Hz) error {
	if rate >= 225001 && rate <= 300000 || rate >= 900001 && rate <= 3200000 {
		return nil
	}
	return fmt.Errorf("sample rate %v: a dongle runs at 225,001 to 300,000 and at 900,001 to 3,200,000 samples a second; set sample_rate = \"2.4MHz\"", float64(rate))
}
