package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/survey"
	"nightfloor/survey/level"
)

// ownDensity is what the bench's receiver shows into a terminator at a label, in dBFS/Hz.
func ownDensity(label survey.DB) float64 {
	own := -173.975 + benchFigure + trueGain(float64(label), benchSpread) - benchFull
	return 10 * math.Log10(math.Pow(10, own/10)+level.Rounding(2.4e6))
}

// refused runs a calibration that must fail with a line that has all parts, and store nothing.
func (b *bench) refused(t *testing.T, parts []string, args ...string) {
	t.Helper()
	before := len(b.calibrations(t))
	said, err := b.command(append([]string{"calibrate", args[0], "--plan", b.plan, "--db", b.database, "--yes"}, args[1:]...)...).CombinedOutput()
	var status *exec.ExitError
	if !errors.As(err, &status) || status.ExitCode() != 1 || strings.Count(string(said), "\n") != 1 || len(b.calibrations(t)) != before {
		t.Errorf("%v: %v: %s", args, err, said)
	}
	if n := strings.Count(strings.ToLower(string(said)), "nothing was stored"); n != 1 {
		t.Errorf("%v: that nothing was stored is said %d times: %s", args, n, said)
	}
	for _, part := range parts {
		if !strings.Contains(string(said), part) {
			t.Errorf("%v: %s; want %q", args, said, part)
		}
	}
}

// Own noise and a generator on the stand-in: the noise figure that is built in comes out at every gain, a level that is
// told wrong is refused, and own noise at gains at which too few codes move is computed to 0.3 dB.
func TestCalibrateFigureAndSteps(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "terminated 1", "carrier 9652000 -60")
	b.calibrate(t, "noise")
	b.set(t, "terminated", "0")
	b.set(t, "noise", "-170")
	generator := []string{"level", "--frequency", "9.652MHz", "--level"}
	b.refused(t, []string{"the noise figure would be −1", "nothing real is under 0", "calibrate remove 1"}, append(generator, "-80 dBm")...)
	d := b.calibrate(t, append(generator, "-60 dBm", "--uncertainty", "0.3 dB")...)
	if len(d.Figures) == 0 {
		t.Fatalf("no noise figure of %+v", d.Levels)
	}
	for _, f := range d.Figures {
		// 0.1 dB of a short reading of each segment, 0.15 of the generator's carrier.
		if math.Abs(float64(f.Figure)-benchFigure) > 0.3 || f.Uncertainty < 0.5 {
			t.Errorf("%+v, want %v dB", f, benchFigure)
		}
	}
	for _, l := range d.Levels {
		if want := math.Hypot(0.3, 0.5); l.Budget.Source != 0.3 || math.Abs(float64(l.Known)-want) > 0.02 {
			t.Errorf("%+v, want it known to %.2f dB", l, want)
		}
	}
	b.refused(t, []string{"full scale differs from that of calibration 2", "by +15.0 dB", "--changed"}, append(generator, "-45 dBm")...)

	stored := b.calibrations(t)
	runs := []*survey.Calibration{&stored[1], &stored[0]}
	guesses, worst, before := 0, 0.0, 0.0
	for _, n := range stored[0].Noise {
		if !n.Rough() || n.Segment.Name != "31 m" { // the generator stands in 31 m
			continue
		}
		c, ok := level.Computed(n, stored[0].Noise, 2.4e6, runs)
		off := math.Abs(float64(c.Density) - ownDensity(n.Gain))
		if !ok || off > 0.3 {
			t.Errorf("at %v dB: %.2f, want %.2f dBFS/Hz (%v)", n.Gain, c.Density, ownDensity(n.Gain), ok)
		}
		guesses, worst, before = guesses+1, max(worst, off), max(before, math.Abs(float64(n.Density)-ownDensity(n.Gain)))
	}
	if guesses < 5 {
		t.Errorf("%d gains with too few codes", guesses)
	}
	t.Logf("%d noise figures; own noise at %d gains with too few codes off by %.2f dB at the most, by %.2f as measured", len(d.Figures), guesses, worst, before)
}

// A carrier of −60 dBm told as −107 while own noise is known only by what rounding hides: the noise figure would be 30 dB
// under 0 at least.
func TestCalibrateLevelFarTooLow(t *testing.T) {
	notInShort(t)
	t.Parallel()
	// Full scale of −5 dBm at a gain of 0 dB: noise moves the codes at no gain.
	b := newCalibrationBench(t, upconverted, "terminated 1", "fullscale -5", "carrier 9652000 -60")
	for _, n := range b.calibrate(t, "noise").Noise {
		if !n.Rough() {
			t.Fatalf("%+v is measured", n)
		}
	}
	b.set(t, "terminated", "0")
	b.set(t, "noise", "-170")
	b.refused(t, []string{"the noise figure would be under −", "nothing real is under 0", "was told too low"}, "level", "--frequency", "9.652MHz", "--level", "-107 dBm")
	b.calibrate(t, "level", "--frequency", "9.652MHz", "--level", "-60 dBm")
}

// A noise source that a program turns on: noise figure and full scale come out, and it is off again at the end.
func TestCalibrateNoiseSource(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "enr 15", "source 0")
	source := filepath.Join(b.folder, "source")
	script := fmt.Sprintf("#!/bin/sh\ncase \"$1\" in on) on=1;; off) on=0;; *) exit 3;; esac\nsed \"s/^source .*/source $on/\" %[1]s > %[1]s.new && mv %[1]s.new %[1]s\n", filepath.Join(b.folder, "control.txt"))
	writeProgram(t, source, script)
	b.refused(t, []string{"at no gain does the noise source give a level", "check that it is off first and on then"}, "level", "--enr", "15 dB", "--", "/bin/true")
	d := b.calibrate(t, "level", "--enr", "15 dB", "--", source)
	if len(d.Levels) < 30 || len(d.Figures) != len(d.Levels) {
		t.Fatalf("%d levels, %d figures, left out %+v", len(d.Levels), len(d.Figures), d.Left)
	}
	worst := 0.0
	for i, l := range d.Levels {
		off := math.Abs(float64(l.FullScale) - (benchFull - trueGain(float64(l.Gain), benchSpread)))
		worst = max(worst, off)
		if off > max(0.3, 3*float64(l.Sigma)) || l.Basis != survey.BasisSource || math.Abs(float64(d.Figures[i].Figure)-benchFigure) > max(0.3, 3*float64(l.Sigma)) {
			t.Errorf("%+v, %.2f dB off, %+v", l, off, d.Figures[i])
		}
	}
	if control, err := os.ReadFile(filepath.Join(b.folder, "control.txt")); err != nil || !strings.Contains(string(control), "source 0\n") {
		t.Errorf("the noise source was left on: %v\n%s", err, control)
	}
	t.Logf("%d levels, the worst off by %.2f dB", len(d.Levels), worst)
}

// A level in other units, and words that do not go together.
func TestCalibrateLevelUsage(t *testing.T) {
	for words, want := range map[string]string{
		"--level|47 dBµV":                  "= −60.0 dBm at 50 Ω",
		"--level|47dBμV":                   "= −60.0 dBm at 50 Ω",
		"--level|46.99 dBuV":               "= −60.0 dBm at 50 Ω",
		"--level|-60":                      `write it as "-60 dBm"`,
		"--level|0 dBm":                    "may destroy the receiver",
		"--enr|15 dB|--noise-figure|8 dB":  "choose one",
		"--enr|15 dB|--frequency|9.652MHz": "choose one",
		"--enr|0 dB":                       "no noise source has it",
		"--uncertainty|-1 dB":              "within 0 to 10 dB",
		"--noise-figure|8 dB|--|/bin/true": "/bin/true",
		"--frequency|9.652MHz|--level|-60 dBm|--|/bin/true": "/bin/true",
	} {
		args := append([]string{"calibrate", "level", "--plan", "night.toml", "--yes"}, strings.Split(words, "|")...)
		if status, _, said := command(t, args...); status != 2 || !strings.Contains(said, want) {
			t.Errorf("%s: status %d, %s; want %q", words, status, said, want)
		}
	}
}
