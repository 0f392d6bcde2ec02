//go:build unix

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

// A calibrated is a kind of calibration as a fault finds it.
type calibrated struct {
	args    []string
	sky     []string
	program bool   // one that changes what is connected is named after it
	steps   string // in which it happens: what the program did before, from word to word; "" is the first
}

// calibratedKinds are all kinds, with what is connected for them.
var calibratedKinds = map[string]calibrated{
	"noise":           {args: []string{"noise"}, sky: []string{"terminated 1"}},
	"level":           {args: []string{"level", "--frequency", "9.652MHz", "--level", "-60 dBm"}, sky: []string{"noise -170", "carrier 9652000 -60"}},
	"level by figure": {args: []string{"level", "--noise-figure", "9 dB"}, sky: []string{"terminated 1"}},
	"level by source": {args: []string{"level", "--enr", "15 dB"}, sky: []string{"enr 15", "source 0"}, program: true, steps: "off on"},
	"linearity":       {args: []string{"linearity", "--attenuation", "10 dB"}, sky: []string{"noise -145"}, program: true, steps: "out in out"},
	"lines":           {args: []string{"lines"}, sky: []string{"terminated 1"}},
	"clock":           {args: []string{"clock", "--for", "2m"}, sky: []string{"noise -145", "carrier 9665000 -60"}},
}

// calibrationFaults happen in the middle of a step.
var calibrationFaults = map[string]struct {
	happens func(t *testing.T, r *runner)
	says    []string
	kinds   []string // nil: all
}{
	"the dongle is pulled out":   {func(t *testing.T, r *runner) { r.bench.set(t, "plugged", "0") }, []string{"receiver unplugged", "nothing was stored; plug it in and start again"}, nil},
	"the driver hangs in a call": {func(t *testing.T, r *runner) { r.bench.set(t, "hang", "tune") }, []string{"the driver has not come back for 5s", "nothing was stored"}, nil},
	"every order is refused":     {func(t *testing.T, r *runner) { r.bench.set(t, "refuse", "-9") }, []string{"error -9", "nothing was stored"}, []string{"noise", "linearity"}},
	"no samples come any more":   {func(t *testing.T, r *runner) { r.bench.set(t, "wedge", "1") }, []string{"no samples for 2 s", "nothing was stored"}, []string{"level", "linearity"}},
	"Ctrl-C":                     {func(t *testing.T, r *runner) { r.signal(t, syscall.SIGINT) }, []string{"stopped by the operator: nothing was stored; start it again when it suits"}, nil},
}

// bench readies one for a kind, with a calibration of another dongle in its database, an attenuator
// that is a program, and readings so long that a fault comes into the middle.
func (k calibrated) bench(t *testing.T) (b *bench, args []string) {
	b = newCalibrationBench(t, func(p string) string {
		return strings.NewReplacer(`dwell = "40ms"`, `dwell = "100ms"`, "sweeps = 2", "sweeps = 10").Replace(upconverted(p))
	}, append(append([]string{}, k.sky...), "tuner e4000")...)
	b.set(t, "status", filepath.Join(b.folder, "status"))
	args = append(append([]string{"calibrate"}, k.args...), "--plan", b.plan, "--db", b.database, "--yes")
	if k.program {
		path := filepath.Join(b.folder, "program")
		writeProgram(t, path, fmt.Sprintf(`#!/bin/sh
cd %s
case $1 in in) line="attenuator 10";; out) line="attenuator 0";; on) line="source 1";; off) line="source 0";; esac
sed "/^${line%%%% *}/d" control.txt > c.new && echo "$line" >> c.new && mv c.new control.txt
echo "told $1" >> status
`, b.folder))
		args = append(args, "--", path)
	}
	db, err := store.Open(t.Context(), b.database)
	must(t, err)
	must(t, db.AddCalibration(t.Context(), &survey.Calibration{Kind: survey.CalibrateClock, Receiver: "another dongle",
		At: time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC), Clock: &survey.ClockError{PPM: 1, Sigma: 0.1, Stations: 4}}))
	must(t, db.Close())
	return b, args
}

// status gives the stand-in's status file, with what the program was told.
func (b *bench) status() string {
	text, _ := os.ReadFile(filepath.Join(b.folder, "status")) // it is not there at first
	return string(text)
}

// reaches waits until a step has tuned twice: the one after the program was told so many words.
func (b *bench) reaches(t *testing.T, words int) {
	t.Helper()
	for limit := time.Now().Add(time.Minute); time.Now().Before(limit); time.Sleep(time.Millisecond) {
		told := strings.Split(b.status(), "told ")
		if len(told)-1 >= words && strings.Count(told[words], "\ntune ") >= 2 {
			return
		}
	}
	t.Fatalf("no step %d: %s", words, b.status())
}

// A fault in each step of each kind of calibration: one line says so, nothing of it is stored, and
// the attenuator is out again, the noise source off.
func TestCalibrationsUnderFaults(t *testing.T) {
	notInShort(t)
	t.Parallel()
	for fault, f := range calibrationFaults {
		for name, k := range calibratedKinds {
			if f.kinds != nil && !slices.Contains(f.kinds, name) {
				continue
			}
			words := strings.Fields(k.steps)
			for step := min(1, len(words)); step <= len(words); step++ {
				what := fmt.Sprintf("%s while calibrate %s measures", fault, name)
				if step > 0 {
					what += fmt.Sprintf(", in step %d of %s", step, k.steps)
				}
				t.Run(what, func(t *testing.T) {
					t.Parallel()
					b, args := k.bench(t)
					r := b.runs(t, b.command(args...))
					b.reaches(t, step)
					f.happens(t, r)
					said := r.fails(t, what, f.says...)
					if len(words) > 0 && !strings.HasSuffix(strings.TrimSpace(b.status()), "told "+words[0]) && strings.LastIndex(b.status(), "told "+words[0]) < strings.LastIndex(b.status(), "told "+words[1]) {
						t.Errorf("left %s: %s; it says %s", words[1], b.status(), said)
					}
				})
			}
		}
	}
}

// fails waits for the end of a calibration that fails: with one line, and nothing stored beside what
// was there. It gives the line.
func (r *runner) fails(t *testing.T, what string, says ...string) string {
	t.Helper()
	r.stored(1 << 30)
	r.Wait()
	status, said := r.ProcessState.ExitCode(), strings.Join(r.lines, "\n")
	all := r.bench.calibrations(t)
	faultRow(t, what, telling(said), survey.Count(len(all), "calibration")+", whole", status)
	for _, part := range says {
		if !strings.Contains(said, part) {
			t.Errorf("%q is not said: %s", part, said)
		}
	}
	if status != 1 || len(r.lines) != 1 || !errorLine.MatchString(said+"\n") {
		t.Errorf("status %d, want 1 and one line:\n%s", status, said)
	}
	if len(all) != 1 || all[0].Receiver != "another dongle" {
		t.Errorf("stored: %+v", all)
	}
	return said
}

// What befalls the database when a run is to be stored: the run is printed all the same, one line says why it
// is not stored, and the database holds what it held.
func TestCalibrationThatCannotBeStored(t *testing.T) {
	notInShort(t)
	t.Parallel()
	run := func(t *testing.T, what, disk string, happens func(b *bench, r *runner) (over func()), says string) {
		b, args := calibratedKinds["noise"].bench(t)
		if disk != "" {
			there := filepath.Join(disk, "night.db")
			copyDatabase(t, b.database, there)
			b.database, args = there, append(args, "--db", there)
		}
		printed, err := os.Create(filepath.Join(b.folder, "printed"))
		must(t, err)
		defer printed.Close()
		cmd := b.command(args...)
		cmd.Stdout = printed
		r := b.runs(t, cmd)
		b.reaches(t, 0)
		over := happens(b, r)
		r.stored(1 << 30)
		r.Wait()
		over()
		out, err := os.ReadFile(printed.Name())
		must(t, err)
		r.fails(t, what, says)
		if stopped := strings.Contains(what, "Ctrl-C"); !stopped && !strings.Contains(string(out), "dBFS/Hz") {
			t.Errorf("what was measured is not printed: %s", out)
		}
	}
	t.Run("full disk", func(t *testing.T) {
		disk := smallDisk(t)
		run(t, "the disk is full when calibrate noise stores", disk, func(*bench, *runner) func() {
			_ = os.WriteFile(filepath.Join(disk, "ballast"), make([]byte, 2<<20), 0o644) // to the last byte
			return func() { must(t, os.Remove(filepath.Join(disk, "ballast"))) }
		}, "the disk is full")
	})
	t.Run("locked", func(t *testing.T) {
		t.Parallel() // it waits, mostly
		run(t, "another program holds the database locked when calibrate noise stores", "", func(b *bench, _ *runner) func() {
			return lockDatabase(t, b.database)
		}, "locked")
	})
	t.Run("stopped", func(t *testing.T) {
		t.Parallel()
		run(t, "Ctrl-C while calibrate noise waits for a locked database", "", func(b *bench, r *runner) func() {
			release := lockDatabase(t, b.database)
			for strings.Count(b.status(), "\ntune ") < 2*14 { // two segments, 14 gains
				time.Sleep(5 * time.Millisecond)
			}
			time.Sleep(300 * time.Millisecond)
			r.signal(t, syscall.SIGINT)
			return release
		}, "")
	})
}
