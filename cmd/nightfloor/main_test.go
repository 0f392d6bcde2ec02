package main

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"nightfloor/capture/rtlsdr/rtlsdrtest"
	"nightfloor/cmd/nightfloor/open"
)

// asProgram makes the test program be nightfloor itself, for tests that kill it,
// or need its own loader and standard error.
const asProgram = "NIGHTFLOOR_TEST_AS_PROGRAM"

// byStandIn makes that program go by the stand-in's time, so that no test with a
// dongle depends on how fast the host is.
const byStandIn = "NIGHTFLOOR_TEST_BY_STANDIN"

// aheadFile names a file that says, as 1h or -1h, by how much that time was set.
const aheadFile = "NIGHTFLOOR_TEST_CLOCK_AHEAD"

// A setClock is the stand-in's, which a test sets.
type setClock struct{ *rtlsdrtest.Clock }

// Now gives the time as it was set. As with a host's clock, what lies between two times stays right:
// only the wall clock of a time.Time is moved, by its seconds since 1885 in bits 30 to 62.
func (c setClock) Now() time.Time {
	was := c.Clock.Now()
	text, err := os.ReadFile(os.Getenv(aheadFile))
	if err != nil {
		return was // nobody has set it
	}
	ahead, _ := time.ParseDuration(string(text))
	now := was
	*(*uint64)(unsafe.Pointer(&now)) += uint64(int64(ahead/time.Second)) << 30
	if now.Sub(was) != 0 || now.Round(0).Sub(was.Round(0)) != ahead {
		panic("a time.Time looks otherwise here")
	}
	return now
}

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
			open.DongleClock = setClock{clock}
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

// A value that a flag cannot take, or a file without a name, ends with status 2 and one line that names the flag once.
func TestWrongValuesOfFlags(t *testing.T) {
	for want, args := range map[string][]string{
		`report: --from x: "x" is no time; write it as 2026-11-03T21:04:10Z, or 2026-11-03 21:04:10 in local time; see nightfloor report --help`:         {"report", "--from", "x"},
		`import: --start 24:04: "24:04" is no time; write it as 21:04, or with its day as 2026-11-03 21:04, in local time; see nightfloor import --help`: {"import", "x.cu8", "--start", "24:04"},
		`measure: --center x: frequency "x": not a number with a unit; write it as 9400kHz or 9.4MHz; see nightfloor measure --help`:                     {"measure", "x.cu8", "--center", "x"},
		`measure: --rate 0: must be above 0; see nightfloor measure --help`:                                                                              {"measure", "x.cu8", "--rate", "0"},
		`calibrate level: --frequency 9650: frequency "9650": no unit; add Hz, kHz or MHz; see nightfloor calibrate level --help`:                        {"calibrate", "level", "--frequency", "9650"},
		`calibrate level: --noise-figure 6: not a number with the unit dB; write it as "6 dB"; see nightfloor calibrate level --help`:                    {"calibrate", "level", "--noise-figure", "6"},
		`calibrate level: --noise-figure -6 dB: no receiver has it; give it within 0 to 50 dB; see nightfloor calibrate level --help`:                    {"calibrate", "level", "--noise-figure", "-6 dB"},
		`import: --survey is empty; give it a value, or leave it away`:                                                                                   {"import", "x.cu8", "--survey", ""},
		`record: --until is empty; give it a value, or leave it away`:                                                                                    {"record", "--plan", "x.toml", "--until", ""},
		`measure: a file's name is empty; name a file`:                                                                                                   {"measure", ""},
		`import: a file's name is empty; name a file`:                                                                                                    {"import", "x.cu8", ""},
		`report: flag needs an argument: --segment; see nightfloor report --help`:                                                                        {"report", "--segment"},
		`report: unknown flag --frob; did you mean --from?; see nightfloor report --help`:                                                                {"report", "--frob"},
	} {
		if status, out, errOut := command(t, args...); status != 2 || out != "" || errOut != "nightfloor: "+want+"\n" {
			t.Errorf("%q: status %d, %q; want %q", args, status, errOut, want)
		}
	}
}

// writeProgram writes a script that is started. Meanwhile no process is: it would hold the file open for writing, and such a
// file cannot be executed.
func writeProgram(t testing.TB, path, script string) {
	t.Helper()
	syscall.ForkLock.RLock()
	defer syscall.ForkLock.RUnlock()
	must(t, os.WriteFile(path, []byte(script), 0o755))
}

// must takes an error for a failure of the test itself.
func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
