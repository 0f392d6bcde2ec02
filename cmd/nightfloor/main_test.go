package main

import (
	"errors"
	"fmt"
	"os"
	"testing"

	"nightfloor/capture/rtlsdr/rtlsdrtest"
)

// asProgram makes the test program be nightfloor itself, for tests that kill it,
// or need its own loader and standard error.
const asProgram = "NIGHTFLOOR_TEST_AS_PROGRAM"

// byStandIn makes that program go by the stand-in's time, so that no test with a
// dongle depends on how fast the host is.
const byStandIn = "NIGHTFLOOR_TEST_BY_STANDIN"

// standInEnv is what a process needs to find the stand-in for librtlsdr, and
// standInErr why there is none.
var (
	standInEnv []string
	standInErr error
)

// notInShort leaves a test that waits for real time, or computes, for long out of the pass
// with the race detector, to which it would add minutes and no other code.
func notInShort(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("it waits or computes for long; it runs without -short")
	}
}

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		if os.Getenv(byStandIn) != "" {
			clock, err := rtlsdrtest.NewClock()
			if err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(2)
			}
			dongleClock = clock
		}
		main()
	}
	folder, err := os.MkdirTemp("", "nightfloor-standin-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	standInEnv, standInErr = rtlsdrtest.Build(folder)
	if standInErr != nil && !errors.Is(standInErr, rtlsdrtest.ErrNoCompiler) {
		fmt.Fprintln(os.Stderr, standInErr)
		os.Exit(1)
	}
	status := m.Run()
	os.RemoveAll(folder)
	os.Exit(status)
}
