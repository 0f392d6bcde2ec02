//go:build !linux

package fft_test

import (
	"errors"
	"time"
)

func pinThreads() (unpin func(), err error) {
	return func() {}, errors.New("no way known on this system")
}

var started = time.Now()

// cpuTime stands in with the time of day: run the benchmark on an idle machine.
func cpuTime() time.Duration { return time.Since(started) }
