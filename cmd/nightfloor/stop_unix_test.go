//go:build unix

package main

import (
	"bufio"
	"errors"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"nightfloor/cmd/nightfloor/console"
)

// A runner is nightfloor at work in a process of its own, and what it says.
type runner struct {
	*exec.Cmd
	bench *bench
	said  *bufio.Scanner // of its standard error
	pipe  *os.File       // that is read
	lines []string
}

// runs starts a command; its standard error is a pipe.
func (b *bench) runs(t *testing.T, cmd *exec.Cmd) *runner {
	t.Helper()
	from, to, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = to
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	to.Close()
	t.Cleanup(func() { cmd.Process.Kill(); from.Close() })
	return &runner{Cmd: cmd, bench: b, said: bufio.NewScanner(from), pipe: from}
}

// stored reads on until so many sweeps more were reported stored, or the end.
func (r *runner) stored(n int) {
	for n > 0 && r.said.Scan() {
		if r.lines = append(r.lines, r.said.Text()); storedLine.MatchString(r.said.Text()) {
			n--
		}
	}
}

// hangs waits until a call hangs in the stand-in.
func (r *runner) hangs(t *testing.T, call string) {
	t.Helper()
	for limit := time.Now().Add(time.Minute); time.Now().Before(limit); time.Sleep(time.Millisecond) {
		if text, err := os.ReadFile(filepath.Join(r.bench.folder, "status")); err == nil && strings.Contains(string(text), "hang "+call) {
			return
		}
	}
	t.Fatalf("the call does not hang: %s", r.lines)
}

func (r *runner) signal(t *testing.T, s syscall.Signal) {
	t.Helper()
	if err := r.Process.Signal(s); err != nil {
		t.Fatal(err)
	}
}

// ends reads what it says to its end, and wants the status, the last line, the survey's ending,
// and that as many sweeps are stored as it said, or one more where its end was not heard.
func (r *runner) ends(t *testing.T, fault string, status int, last, ending string) {
	t.Helper()
	r.stored(1 << 30)
	r.Wait()
	if got := r.ProcessState.ExitCode(); got != status || len(r.lines) > 0 && !strings.Contains(r.lines[len(r.lines)-1], last) {
		t.Errorf("%v, want status %d and %q:\n%s", r.ProcessState, status, last, strings.Join(r.lines, "\n"))
	}
	reported := 0
	for _, line := range r.lines {
		if storedLine.MatchString(line) {
			reported++
		}
	}
	faultRow(t, fault, telling(strings.Join(r.lines, "\n")), holds(t, r.bench.database), r.ProcessState.ExitCode())
	sweeps, surveys, _ := r.bench.sweeps(t)
	if n := len(sweeps) - reported; n < 0 || n > 1 || n > 0 && last != "" || surveys[0].Ending != ending {
		t.Errorf("%d sweeps are stored, %d were reported; %q, want %q", len(sweeps), reported, surveys[0].Ending, ending)
	}
}

// A closed terminal and a closed log stop a survey after the sweep in hand, as SIGTERM does. One
// that was started by nohup goes on.
func TestStopsAfterTheSweepInHand(t *testing.T) {
	t.Parallel()
	const stopped = "stopped by the operator"
	// Where the tests run under nohup the program would ignore SIGHUP too; what is caught here
	// is not ignored there.
	caught := make(chan os.Signal, 1)
	signal.Notify(caught, syscall.SIGHUP)
	t.Cleanup(func() { signal.Stop(caught) })
	for name, test := range map[string]struct {
		stop   func(t *testing.T, r *runner)
		ending string
	}{
		"SIGTERM": {func(t *testing.T, r *runner) { r.signal(t, syscall.SIGTERM) }, stopped},
		"closed terminal": {func(t *testing.T, r *runner) { // the shell tells, and the kernel
			r.signal(t, syscall.SIGHUP)
			r.signal(t, syscall.SIGHUP)
		}, stopped},
		"closed log": {func(t *testing.T, r *runner) { r.pipe.Close() }, stopped},
		"nohup":      {func(t *testing.T, r *runner) { r.signal(t, syscall.SIGHUP) }, "all rounds done"},
	} {
		// With a dongle standard error is not file descriptor 2, on which a broken pipe kills.
		for _, receiver := range []string{"rtlsdr:", "scene:house"} {
			if receiver != "rtlsdr:" && name != "closed log" {
				continue
			}
			t.Run(name+" "+receiver, func(t *testing.T) {
				t.Parallel()
				b := newBench(t, map[string]float64{"whip": 0, "loop": 0, "terminator": 0}, func(p string) string {
					rounds := map[bool]string{true: "rounds = 6", false: "rounds = 1000"}[name == "nohup"]
					return strings.NewReplacer("rounds = 6", rounds, `dwell = "200ms"`, `dwell = "40ms"`).Replace(p)
				})
				cmd := b.command("record", "--verbose", "--plan", b.plan, "--db", b.database, "--receiver", receiver)
				if name == "nohup" {
					cmd.Args = slices.Concat([]string{"sh", "-c", `trap "" HUP; exec "$0" "$@"`}, []string{cmd.Path}, cmd.Args[1:])
					cmd.Path = "/bin/sh"
				}
				r := b.runs(t, cmd)
				r.stored(3)
				test.stop(t, r)
				last := map[bool]string{true: "stored; for the report", false: ""}[name != "closed log"]
				r.ends(t, name+", with "+receiver, 0, last, test.ending)
				goesOn := slices.ContainsFunc(r.lines, func(line string) bool {
					return strings.HasSuffix(line, " of 1,000; the same command goes on where it was")
				})
				if goesOn != (name == "SIGTERM" || name == "closed terminal") {
					t.Errorf("%s: that it goes on is said: %v\n%s", name, goesOn, strings.Join(r.lines, "\n"))
				}
			})
		}
	}
}

// A second signal stops at once whatever call the driver hangs in; what was stored is there.
func TestStopsAtOnceInACallThatHangs(t *testing.T) {
	t.Parallel()
	for _, call := range []string{"tune", "gain", "testmode", "close"} {
		t.Run(call, func(t *testing.T) {
			t.Parallel()
			b := newBench(t, map[string]float64{"whip": 0, "loop": 0}, func(p string) string {
				return strings.NewReplacer(`front_end = "direct sampling Q"`, "front_end = \"up-converter\"\noffset = \"125 MHz\"", `dwell = "200ms"`, `dwell = "40ms"`).Replace(p)
			}, "patient 1", "upconverter 125000000")
			b.env = append(b.env, byStandIn+"=") // by the host's time: the call does not come back before
			b.set(t, "status", filepath.Join(b.folder, "status"))
			r := b.runs(t, b.command("record", "--verbose", "--plan", b.plan, "--db", b.database))
			r.stored(3)
			b.set(t, "hang", call)
			last, ending := console.ErrStoppedAtOnce.Error(), "stopped at once by the operator, in the middle of a sweep"
			if call == "close" { // of the receiver, when the survey is over
				last, ending = "nightfloor: stopped at once", "stopped by the operator"
				r.signal(t, syscall.SIGTERM)
				r.hangs(t, call)
			} else {
				r.hangs(t, call)
				r.signal(t, syscall.SIGTERM)
			}
			r.signal(t, syscall.SIGINT)                                                               // another one: of two alike that come together the second is lost
			r.ends(t, "the driver hangs in a call ("+call+"), and two signals come", 1, last, ending) // another end, where the call was waited for
		})
	}
}

// The first signal ends a command whose driver hangs while it opens the dongle.
func TestStopsWhileOpeningHangs(t *testing.T) {
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0}, nil)
	b.env = append(b.env, byStandIn+"=")
	b.set(t, "status", filepath.Join(b.folder, "status"))
	b.set(t, "hang", "open")
	for _, args := range [][]string{{"record", "--plan", b.plan, "--db", b.database}, {"receivers"}} {
		r := b.runs(t, b.command(args...))
		r.hangs(t, "open")
		os.Remove(filepath.Join(b.folder, "status"))
		r.signal(t, syscall.SIGINT)
		r.stored(1 << 30)
		var status *exec.ExitError
		if err := r.Wait(); !errors.As(err, &status) || status.ExitCode() != 1 || len(r.lines) != 1 || !strings.HasSuffix(r.lines[0], stoppedByOperator) {
			t.Errorf("%v: %v %q", args, err, r.lines)
		}
	}
}
