package rtlsdr

import (
	"context"
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
)

// Options say which dongle is opened, and how it receives.
type Options struct {
	Serial   string    // "": by index
	Index    int       // counts from 0
	Rate     survey.Hz // 0: 2.4 MS/s
	FrontEnd survey.FrontEnd
	Log      *slog.Logger
	Clock    Clock
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

// A Clock is the time that a receiver goes by. By Elapsed samples are counted. It
// goes on while the host sleeps, where the system has such a clock: what the dongle
// would have delivered meanwhile is lost.
type Clock interface {
	capture.Clock
	capture.Steady
	// Wait waits until something comes, for d at most, and tells whether it did.
	Wait(ctx context.Context, came <-chan struct{}, d time.Duration) (bool, error)
	// Await is Wait for a call to the driver. It differs where a clock stands during calls.
	Await(ctx context.Context, done <-chan struct{}, d time.Duration) (bool, error)
}
