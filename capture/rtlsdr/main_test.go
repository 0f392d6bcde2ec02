package rtlsdr

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"testing"

	"nightfloor/capture/rtlsdr/rtlsdrtest"
)

// TestMain builds the stand-in and runs the tests in a process that finds it: a
// loader reads its path when a process starts.
func TestMain(m *testing.M) {
	if os.Getenv(rtlsdrtest.ControlEnv) != "" {
		if os.Getenv(noStandIn) == "" {
			driven, err := rtlsdrtest.NewClock()
			if err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
			clock = &scriptedClock{Clock: driven}
		}
		os.Exit(m.Run())
	}
	os.Exit(withStandIn())
}

// clock is the time that the tests and the stand-in go by. It stands while nobody
// waits, so that nothing is late or lost save what a test asks for, however loaded
// the machine.
var clock *scriptedClock

// noStandIn tells the tests why there is none.
const noStandIn = "NIGHTFLOOR_TEST_NO_STANDIN"

func withStandIn() int {
	folder, err := os.MkdirTemp("", "nightfloor-standin-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	env, err := rtlsdrtest.Build(folder)
	switch {
	case errors.Is(err, rtlsdrtest.ErrNoCompiler):
		env = []string{rtlsdrtest.ControlEnv + "=none", noStandIn + "=" + err.Error()}
	case err != nil:
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	again := exec.Command(os.Args[0], os.Args[1:]...)
	again.Env = append(os.Environ(), env...)
	again.Stdout, again.Stderr = os.Stdout, os.Stderr
	if err := again.Run(); err != nil {
		var status *exec.ExitError
		if errors.As(err, &status) {
			return status.ExitCode()
		}
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// standIn writes the stand-in's control file, and skips where there is no stand-in.
func standIn(t testing.TB, lines ...string) {
	t.Helper()
	if why := os.Getenv(noStandIn); why != "" {
		if os.Getenv("CI") == "true" {
			t.Fatal(why)
		}
		t.Skip(why)
	}
	if err := rtlsdrtest.Control(os.Getenv(rtlsdrtest.ControlEnv), lines...); err != nil {
		t.Fatal(err)
	}
}
