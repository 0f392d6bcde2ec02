package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/calibration"
	"nightfloor/store"
	"nightfloor/survey"
)

// upconverted makes the bench's plan one for a dongle with an up-converter, whose
// gain can be set, with short readings.
func upconverted(plan string) string {
	return strings.NewReplacer(`front_end = "direct sampling Q"`, "front_end = \"up-converter\"\noffset = \"125 MHz\"", `dwell = "200ms"`, `dwell = "40ms"`).Replace(plan)
}

// calibrate runs a calibration and gives its document; status must be 0.
func (b *bench) calibrate(t *testing.T, args ...string) calibration.Document {
	t.Helper()
	full := append([]string{"calibrate", args[0], "--plan", b.plan, "--db", b.database, "--yes", "--json"}, args[1:]...)
	cmd := b.command(full...)
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %v\n%s", full, err, said.String())
	}
	var d calibration.Document
	if err := json.Unmarshal(out.Bytes(), &d); err != nil {
		t.Fatalf("%v: %s", err, out.String())
	}
	if d.Schema != "nightfloor/calibration/1" || d.Kind != args[0] || d.Simulated || d.ID == nil {
		t.Errorf("%+v", d)
	}
	return d
}

// calibrations reads what is stored, and checks that the database is whole.
func (b *bench) calibrations(t *testing.T) []survey.Calibration {
	t.Helper()
	db, err := store.Open(t.Context(), b.database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	all, err := db.Calibrations(t.Context())
	if err := errors.Join(err, db.Check(t.Context())); err != nil {
		t.Fatal(err)
	}
	return all
}

// tunerSteps are the labels of the stand-in's tuner, dB.
var tunerSteps = []float64{0, 0.9, 1.4, 2.7, 3.7, 7.7, 8.7, 12.5, 14.4, 15.7, 16.6, 19.7, 20.7, 22.9, 25.4,
	28.0, 29.7, 32.8, 33.8, 36.4, 37.2, 38.6, 40.2, 42.1, 43.4, 43.9, 44.5, 48.0, 49.6}

// trueGain gives what the stand-in makes of the step with a label, of the seed 1.
func trueGain(label, spread float64) float64 { return trueGainOf(1, tunerSteps, label, spread) }

// trueGainOf gives it for a tuner's steps, as its sky.c and table.c draw it from a seed
// (splitmix64, Box and Muller).
func trueGainOf(seed int, steps []float64, label, spread float64) float64 {
	for i, step := range steps {
		if math.Abs(step-label) > 0.01 {
			continue
		}
		state := uint64(seed*1000003 + i)
		uniform := func() float64 {
			state += 0x9e3779b97f4a7c15
			z := state
			z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
			z = (z ^ (z >> 27)) * 0x94d049bb133111eb
			return (float64((z^(z>>31))>>40) + 0.5) / (1 << 24)
		}
		r := math.Sqrt(-2 * math.Log(uniform()))
		return step + spread*r*math.Cos(2*math.Pi*uniform())
	}
	return math.NaN()
}

// The sky of the calibration's bench: an up-converter, full scale −40 dBm at gain
// 0, gain steps that are off by 0.8 dB (standard deviation).
const (
	benchFull   = -40.0
	benchFigure = 9.0
	benchSpread = 0.8
)

func newCalibrationBench(t *testing.T, edit func(string) string, sky ...string) *bench {
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, edit)
	b.control(t, append([]string{"antenna 0", "queue 0.025", "upconverter 125000000", fmt.Sprintf("fullscale %g", benchFull),
		fmt.Sprintf("figure %g", benchFigure), fmt.Sprintf("gain_error %g", benchSpread), "noise -150"}, sky...)...)
	return b
}

// Own noise comes out as built in, at every step, and full scale by the noise figure.
func TestCalibrateNoiseAndFigure(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "terminated 1")
	d := b.calibrate(t, "noise")
	// Two segments, 29 steps.
	if len(d.Noise) != 58 || d.Levels != nil || d.Clock != nil {
		t.Fatalf("%d figures, want 58", len(d.Noise))
	}
	good := 0
	worst := 0.0
	for _, n := range d.Noise {
		own := -173.975 + benchFigure + trueGain(float64(n.Gain), benchSpread) - benchFull
		want := 10 * math.Log10(math.Pow(10, own/10)+2.0/12/(128*128)/2.4e6)
		off := math.Abs(float64(n.Density) - want)
		if n.Sigma < 0.5 {
			good++
			worst = max(worst, off)
		}
		// 40 ms of 250 kHz and more: 0.06 dB with what the windows cost; below half a code
		// of noise the figure admits its doubt.
		if off > max(0.2, 2.2*float64(n.Sigma)) {
			t.Errorf("%s at %v dB: %.2f ± %.2f dBFS/Hz, want %.2f", n.Segment.Name, n.Gain, n.Density, n.Sigma, want)
		}
	}
	if good < 34 {
		t.Errorf("%d figures are good, want those of 17 steps or more in each segment", good)
	}
	t.Logf("%d good figures, the worst off by %.2f dB", good, worst)

	d = b.calibrate(t, "level", "--noise-figure", "9 dB")
	if len(d.Levels) < 34 || len(d.Levels)+len(d.Left) != 58 || d.Noise != nil {
		t.Fatalf("%d levels, %d left out", len(d.Levels), len(d.Left))
	}
	worst = 0
	for _, l := range d.Levels {
		want := benchFull - trueGain(float64(l.Gain), benchSpread)
		worst = max(worst, math.Abs(float64(l.FullScale)-want))
		if math.Abs(float64(l.FullScale)-want) > max(0.25, 3*float64(l.Sigma)) || l.Basis != survey.BasisFigure {
			t.Errorf("%+v: want %.2f dBm", l, want)
		}
	}
	t.Logf("full scale by the noise figure: the worst off by %.2f dB", worst)

	stored := b.calibrations(t)
	if len(stored) != 2 || len(stored[0].Noise) != 58 || stored[0].Kind != "noise" || len(stored[1].Levels) != len(d.Levels) || !strings.Contains(stored[0].Receiver, "up-converter of 125 MHz") || time.Since(stored[0].At) > time.Hour {
		t.Fatalf("%+v", stored)
	}
	// The survey of the same receiver names it the same, also once its clock error is in the plan.
	text, err := os.ReadFile(b.plan)
	if err != nil {
		t.Fatal(err)
	}
	corrected := strings.NewReplacer(`offset = "125 MHz"`, "offset = \"125 MHz\"\nclock_error = \"37.5 ppm\"", "rounds = 6", "rounds = 1").Replace(string(text))
	if err := os.WriteFile(b.plan, []byte(corrected), 0o644); err != nil {
		t.Fatal(err)
	}
	b.record(t)
	if _, surveys, _ := b.sweeps(t); surveys[0].Receiver != stored[0].Receiver {
		t.Errorf("survey of %q, calibration of %q", surveys[0].Receiver, stored[0].Receiver)
	}
}

// A generator makes the true gain steps known.
func TestCalibrateLevel(t *testing.T) {
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "noise -170", "carrier 9652000 -60")
	d := b.calibrate(t, "level", "--frequency", "9.652MHz", "--level", "-60 dBm")
	if len(d.Levels) < 6 || len(d.Levels)+len(d.Left) != 29 {
		t.Fatalf("%d levels, %d left out: %v", len(d.Levels), len(d.Left), d.Left)
	}
	worst := 0.0
	for _, l := range d.Levels {
		want := benchFull - trueGain(float64(l.Gain), benchSpread)
		worst = max(worst, math.Abs(float64(l.FullScale)-want))
		if math.Abs(float64(l.FullScale)-want) > 0.15 || l.Frequency != 9.652e6 {
			t.Errorf("%+v: want %.2f dBm", l, want)
		}
	}
	// −60 dBm stand at 0 dBFS at 20 dB of gain: above it clips.
	for _, l := range d.Left {
		if clips := trueGain(float64(l.Gain), benchSpread) > 18; clips != strings.Contains(l.Why, "clips") {
			t.Errorf("left out at %v dB: %s", l.Gain, l.Why)
		}
	}
	t.Logf("%d steps, the worst off by %.3f dB", len(d.Levels), worst)
}

// A generator of −60 dBm compresses a receiver whose intercept of the third order is −50 dBm by 0.9 dB (1 dB is
// reached 9.6 dB under it), at every gain: full scale is off by as much, and nothing shows it. A second level
// 10 dB lower, compressed by a tenth, tells, and counts.
func TestCalibrateLevelCompressed(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "noise -170", "carrier 9652000 -60", "ip3 -50")
	generator := filepath.Join(b.folder, "generator")
	log := filepath.Join(b.folder, "log")
	script := fmt.Sprintf("#!/bin/sh\necho \"$1 $2 $NIGHTFLOOR_LEVEL\" >> %[2]s\nsed \"s/^carrier 9652000 .*/carrier 9652000 $2/\" %[1]s > %[1]s.new && mv %[1]s.new %[1]s\n",
		filepath.Join(b.folder, "control.txt"), log)
	writeProgram(t, generator, script)
	worst := func(d calibration.Document) (off float64) {
		for _, l := range d.Levels {
			if by := float64(l.FullScale) - (benchFull - trueGain(float64(l.Gain), benchSpread)); math.Abs(by) > math.Abs(off) {
				off = by
			}
		}
		return off
	}
	alone := b.calibrate(t, "level", "--frequency", "9.652MHz", "--level", "-60 dBm")
	if off := worst(alone); off < 0.7 || strings.Contains(strings.Join(alone.Doubts, "; "), "compressed") {
		t.Errorf("one level is off by %.2f dB, want 0.9, and doubts %q", off, alone.Doubts)
	}
	d := b.calibrate(t, "level", "--frequency", "9.652MHz", "--level", "-60 dBm", "--second-level", "-70 dBm", "--changed", "--", generator, "set")
	if off := worst(d); math.Abs(off) > 0.25 || len(d.Levels) < 6 || !strings.Contains(strings.Join(d.Doubts, "; "), "the receiver is compressed at -60 dBm") {
		t.Errorf("two levels are off by %.2f dB, %d of them, doubts %q", off, len(d.Levels), d.Doubts)
	}
	t.Logf("off by %.2f dB with one level, %.2f with two: %q", worst(alone), worst(d), d.Doubts)
	if said, err := os.ReadFile(log); err != nil || string(said) != "set -60 -60\nset -70 -70\n" {
		t.Errorf("%q (%v)", said, err)
	}
	for _, test := range []struct {
		args []string
		want string
	}{
		{[]string{"--second-level", "-62 dBm", "--", generator, "set"}, "are 2 dB apart"},
		{[]string{"--second-level", "-70 dBm"}, "nobody is there to set the generator"},
	} {
		said, err := b.command(append([]string{"calibrate", "level", "--plan", b.plan, "--db", b.database, "--yes", "--frequency", "9.652MHz", "--level", "-60 dBm"}, test.args...)...).CombinedOutput()
		var status *exec.ExitError
		if !errors.As(err, &status) || status.ExitCode() != 2 || !strings.Contains(string(said), test.want) {
			t.Errorf("%v: %v, %s", test.args, err, said)
		}
	}
}

// An attenuator that a program switches: noise and stations from outside fall with
// it in 31 m.
func TestCalibrateLinearity(t *testing.T) {
	notInShort(t)
	t.Parallel()
	const stations = 4
	sky := []string{"noise -145"}
	for i := range stations {
		sky = append(sky, fmt.Sprintf("carrier %d -95", 9_600_000+20_000*i))
	}
	b := newCalibrationBench(t, upconverted, sky...)
	attenuator := filepath.Join(b.folder, "attenuator")
	log := filepath.Join(b.folder, "log")
	script := fmt.Sprintf("#!/bin/sh\necho \"$1 $2\" >> %[2]s\ncase \"$2\" in in) gain=-10;; out) gain=0;; *) exit 3;; esac\nsed \"s/^antenna .*/antenna $gain/\" %[1]s > %[1]s.new && mv %[1]s.new %[1]s\n",
		filepath.Join(b.folder, "control.txt"), log)
	writeProgram(t, attenuator, script)
	d := b.calibrate(t, "linearity", "--attenuation", "10 dB", "--", attenuator, "first word")
	if len(d.Linearity) != 2 {
		t.Fatalf("%+v", d.Linearity)
	}
	for _, l := range d.Linearity {
		gain := trueGain(float64(l.Gain), benchSpread) - benchFull
		want := density(-145, benchFigure, gain, 2.4e6) - density(-155, benchFigure, gain, 2.4e6)
		if l.FloorDrop == nil || math.Abs(float64(*l.FloorDrop)-want) > 0.2 || l.Verdict != survey.VerdictExternal || l.Attenuation != 10 {
			t.Errorf("%+v: floor fell by %v, want %.2f", l, l.FloorDrop, want)
		}
		if l.Segment.Name == "31 m" && (l.CarrierDrop == nil || math.Abs(float64(*l.CarrierDrop)-10) > 0.3 || l.Carriers != stations) {
			t.Errorf("%+v: carriers fell by %v, want 10", l, l.CarrierDrop)
		}
	}
	// It went out, in, and out again; a word with a space stayed one.
	if said, err := os.ReadFile(log); err != nil || string(said) != "first word out\nfirst word in\nfirst word out\n" {
		t.Errorf("%q (%v)", said, err)
	}
	// A receiver that hears its own noise only.
	b.set(t, "noise", "-190")
	for _, l := range b.calibrate(t, "linearity", "--", attenuator, "again").Linearity {
		if l.Verdict != survey.VerdictLimited || l.FloorDrop == nil || math.Abs(float64(*l.FloorDrop)) > 0.3 {
			t.Errorf("%+v", l)
		}
	}
	// Under a strong sky again: a program that does nothing took nothing off.
	b.set(t, "noise", "-145")
	stored := len(b.calibrations(t))
	said, err := b.command("calibrate", "linearity", "--plan", b.plan, "--db", b.database, "--yes", "--", "/bin/true").CombinedOutput()
	var status *exec.ExitError
	if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.Contains(string(said), "the attenuator took nothing off") || !strings.Contains(string(said), "see that it goes in when it is to") || strings.Count(string(said), "othing was stored") != 1 || len(b.calibrations(t)) != stored {
		t.Errorf("%v: %s", err, said)
	}
	// A pad of 6 dB is not taken for one of 10.
	pad := filepath.Join(b.folder, "pad")
	writeProgram(t, pad, strings.Replace(script, "gain=-10", "gain=-6", 1))
	said, err = b.command("calibrate", "linearity", "--plan", b.plan, "--db", b.database, "--yes", "--", pad, "again").CombinedOutput()
	if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.Contains(string(said), "something else: 6.0 dB, not 10") || strings.Count(string(said), "\n") != 1 || len(b.calibrations(t)) != stored {
		t.Errorf("%v: %s", err, said)
	}
	// A program that fails: nothing is stored, and the line says which.
	before := len(b.calibrations(t))
	said, err = b.command("calibrate", "linearity", "--plan", b.plan, "--db", b.database, "--yes", "--", "/bin/sh", "-c", "echo stuck >&2; exit 7").CombinedOutput()
	if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.Contains(string(said), "was not put out") || !strings.Contains(string(said), "stuck") || len(b.calibrations(t)) != before {
		t.Errorf("%v: %s", err, said)
	}
}

// Own noise of −165 dBm/Hz hides how far the rest falls. Noise from outside of −156.0 dBm/Hz and products of the
// second order of −154.6 stand 13.0 dB over it, and with 10 dB in between 2.8: the floor falls by 10.2 dB, and what
// is not own noise by 13.2. Once own noise is known that is intermodulation.
func TestCalibrateLinearityUnderOwnNoise(t *testing.T) {
	notInShort(t)
	t.Parallel()
	plan := func(plan string) string {
		return strings.NewReplacer(`dwell = "40ms"`, `dwell = "100ms"`, "sweeps = 2", "sweeps = 4").Replace(upconverted(plan))
	}
	b := newCalibrationBench(t, plan, "noise -156", "imd -154.6 2", "fullscale -30", "gain_error 0")
	attenuator := filepath.Join(b.folder, "attenuator")
	script := fmt.Sprintf("#!/bin/sh\ncase \"$1\" in in) by=10;; out) by=0;; *) exit 3;; esac\nsed \"s/^attenuator .*/attenuator $by/\" %[1]s > %[1]s.new && mv %[1]s.new %[1]s\n",
		filepath.Join(b.folder, "control.txt"))
	writeProgram(t, attenuator, script)
	b.set(t, "attenuator", "0")
	drops := func() (d calibration.Document) {
		d = b.calibrate(t, "linearity", "--", attenuator)
		for _, l := range d.Linearity {
			if math.Abs(float64(*l.FloorDrop)-10.2) > 0.15 {
				t.Errorf("%s: the floor fell by %.2f dB, want 10.2", l.Segment.Name, *l.FloorDrop)
			}
		}
		return d
	}
	for _, l := range drops().Linearity {
		if l.Verdict != survey.VerdictExternal || l.OutsideDrop != nil {
			t.Errorf("own noise not known: %+v", l)
		}
	}
	b.set(t, "terminated", "1")
	b.calibrate(t, "noise")
	b.set(t, "terminated", "0")
	for _, l := range drops().Linearity {
		if l.Verdict != survey.VerdictProducts || l.OutsideDrop == nil || math.Abs(float64(*l.OutsideDrop)-13.2) > 0.3 {
			t.Errorf("own noise subtracted: %+v, %v ± %v", l, l.OutsideDrop, l.OutsideSigma)
		}
	}
}

// The clock of the dongle runs 37.5 ppm fast.
func TestCalibrateClock(t *testing.T) {
	notInShort(t)
	t.Parallel()
	for _, test := range []struct {
		name string
		edit func(string) string
		sky  []string
		args []string
		plan float64
	}{
		{"direct sampling", func(p string) string { return strings.Replace(p, `"200ms"`, `"100ms"`, 1) }, []string{"carrier 9665000 -60"}, nil, 0},
		{"direct sampling, corrected in part", func(p string) string {
			return strings.Replace(p, `front_end = `, "clock_error = \"30 ppm\"\nfront_end = ", 1)
		}, []string{"carrier 9665000 -60"}, nil, 30},
		// Only a second band tells which turn of the raster it is, by three stations or more.
		{"up-converter", upconverted, []string{"upconverter 125000000", "carrier 6090000 -60", "carrier 6105000 -60", "carrier 9665000 -60"}, nil, 0},
		{"up-converter, known station", upconverted, []string{"upconverter 125000000"}, []string{"--frequency", "9.65MHz"}, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, test.edit, append([]string{"ppm 37.5"}, test.sky...)...)
			d := b.calibrate(t, append([]string{"clock", "--for", "1s"}, test.args...)...)
			c := d.Clock
			if c == nil {
				t.Fatalf("%+v", d)
			}
			// The weakest, 25 dB over the noise in a bin, is missed in one short reading of
			// twenty, and on a busy machine there are two sweeps only: one station more.
			want := 4
			switch test.name {
			case "up-converter":
				want = 6
			case "up-converter, known station":
				want = 1
			}
			if math.Abs(c.New-37.5) > 0.5 || c.Plan != test.plan || math.Abs(c.PPM-(37.5-test.plan)) > 0.5 || c.Stations < want || c.Stations > want+1 || !(c.Sigma > 0 && c.Sigma < 0.5) {
				t.Errorf("%+v, want 37.5 ppm in all", c)
			}
			if got := b.calibrations(t); len(got) != 1 || got[0].Clock == nil || math.Abs(got[0].Clock.PPM-c.PPM) > 1e-3 {
				t.Errorf("%+v", got)
			}
			t.Logf("%.3f ± %.3f ppm in all of %d stations", c.New, c.Sigma, c.Stations)
		})
	}
	// Into a terminator there is no station: refused, and nothing is stored.
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, nil, "terminated 1", "fullscale -60")
	said, err := b.command("calibrate", "clock", "--plan", b.plan, "--db", b.database, "--yes", "--for", "1s").CombinedOutput()
	var status *exec.ExitError
	if !errors.As(err, &status) || status.ExitCode() != 1 || strings.Count(string(said), "\n") != 1 || !strings.Contains(string(said), "steady carriers") || len(b.calibrations(t)) != 0 {
		t.Errorf("%v: %s", err, said)
	}
}

// A line that is there without an antenna.
func TestCalibrateLines(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "noise -168", "carrier 9612345 -118")
	d := b.calibrate(t, "lines", "--at", "antenna")
	if len(d.Lines) != 1 || math.Abs(float64(d.Lines[0].Frequency)-9612345) > 5 {
		t.Fatalf("%+v", d.Lines)
	}
	if l, want := d.Lines[0], -118+trueGain(float64(d.Lines[0].Gain), benchSpread)-benchFull; math.Abs(float64(l.Level)-want) > 0.3 {
		t.Errorf("%+v, want %.1f dBFS", l, want)
	}
	b.set(t, "terminated", "1")
	if d = b.calibrate(t, "lines", "--at", "receiver"); d.Lines == nil || len(d.Lines) != 0 {
		t.Errorf("%+v", d.Lines)
	}
	// With the antenna still there nothing is stored: its floor stands over the own
	// noise, −165 dBm/Hz with the figure of 9 dB, here by 25 dB; and its stations on
	// the raster.
	b.calibrate(t, "noise")
	stored := len(b.calibrations(t))
	refused := func(want string) {
		t.Helper()
		said, err := b.command("calibrate", "lines", "--plan", b.plan, "--db", b.database, "--yes").CombinedOutput()
		var status *exec.ExitError
		if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.Contains(string(said), want) || !strings.Contains(string(said), "an antenna seems to be connected") || len(b.calibrations(t)) != stored {
			t.Errorf("%v: %s; want %q", err, said, want)
		}
	}
	b.set(t, "terminated", "0")
	b.set(t, "noise", "-140")
	refused("over the receiver's own noise of calibration 3")
	b = newCalibrationBench(t, upconverted, "noise -168", "carrier 5950000 -118", "carrier 5995000 -118", "carrier 6070000 -118", "carrier 9615000 -118", "carrier 9625000 -118", "carrier 9650000 -118", "carrier 9612345 -118")
	stored = 0
	refused("6 of 7 lines stand on the raster")
}

// With the antenna left on in place of the terminator own noise is not stored: two dozen stations on
// the raster, and noise 20 dB over the receiver's; or noise alone, after a run that was right.
func TestCalibrateNoiseOfAnAntenna(t *testing.T) {
	notInShort(t)
	t.Parallel()
	sky := []string{"noise -145"}
	for i := range 24 {
		sky = append(sky, fmt.Sprintf("carrier %d -100", []int{5_900_000, 9_400_000}[i%2]+5000*(3*i+i*i%5)))
	}
	b := newCalibrationBench(t, upconverted, sky...)
	refused := func(want string, stored int) {
		t.Helper()
		for _, kind := range [][]string{{"noise"}, {"level", "--noise-figure", "9 dB"}} {
			said, err := b.command(append([]string{"calibrate", kind[0], "--plan", b.plan, "--db", b.database, "--yes"}, kind[1:]...)...).CombinedOutput()
			var status *exec.ExitError
			if !errors.As(err, &status) || status.ExitCode() != 1 || strings.Count(string(said), "\n") != 1 || !strings.Contains(string(said), want) || !strings.Contains(string(said), "an antenna seems to be connected") || len(b.calibrations(t)) != stored {
				t.Errorf("%s: %v: %s; want %q", kind[0], err, said, want)
			}
		}
	}
	refused("lines stand on the raster of broadcasters", 0)
	b = newCalibrationBench(t, upconverted, "terminated 1", "fullscale -30")
	b.calibrate(t, "noise")
	b.set(t, "terminated", "0")
	b.set(t, "noise", "-155") // over −165 of a figure of 9 dB
	refused("own noise differs from that of calibration 1", 1)
}

// What is stored is listed, and removed by its number.
func TestCalibrateListAndRemove(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.db")
	if status, _, said := command(t, "calibrate", "remove", "1", "--db", path); status != 1 || strings.Count(said, "\n") != 1 {
		t.Errorf("no database: status %d, %s", status, said)
	}
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)
	for i, k := range []survey.Calibration{
		{Kind: survey.CalibrateNoise, Note: "terminator", Noise: []survey.SelfNoise{{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Density: -120}, {Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Gain: 3, Density: -119}}},
		{Kind: survey.CalibrateLines, Note: "terminator at the receiver's input"},
		{Kind: survey.CalibrateClock, Clock: &survey.ClockError{PPM: -12.5, Sigma: 0.1, Stations: 7}},
	} {
		k.Receiver, k.At = "a dongle", at.Add(time.Duration(i)*time.Hour)
		if err := db.AddCalibration(t.Context(), &k); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	all := func() (d calibration.List) {
		t.Helper()
		status, out, said := command(t, "calibrate", "list", "--json", "--db", path)
		if err := json.Unmarshal([]byte(out), &d); status != 0 || err != nil || d.Schema != calibration.SchemaList {
			t.Fatalf("status %d, %v: %s%s", status, err, out, said)
		}
		return d
	}
	if d := all(); len(d.Calibrations) != 3 || d.Calibrations[0].ID != 1 || d.Calibrations[0].Figures != 2 || !d.Calibrations[0].At.Equal(at) || d.Calibrations[1].Note != "terminator at the receiver's input" {
		t.Errorf("%+v", d)
	}
	status, out, _ := command(t, "calibrate", "list", "--db", path)
	for _, part := range []string{"1  noise, ", ", 2 figures\n   of a dongle\n   terminator\n", "2  lines, ", ", no line\n", "3  clock, ", ", −12.50 ppm\n"} {
		if status != 0 || !strings.Contains(out, part) {
			t.Errorf("status %d, %q is not in\n%s", status, part, out)
		}
	}
	if status, _, said := command(t, "calibrate", "remove", "1", "9", "--db", path); status != 1 || !strings.Contains(said, "calibration 9: no such entry") || len(all().Calibrations) != 3 {
		t.Errorf("status %d, %s", status, said)
	}
	if status, _, said := command(t, "calibrate", "remove", "1", "3", "--yes", "--db", path); status != 0 || !strings.Contains(said, "removed calibration 1, 3 from "+path) {
		t.Errorf("status %d, %s", status, said)
	}
	if d := all(); len(d.Calibrations) != 1 || d.Calibrations[0].ID != 2 {
		t.Errorf("%+v", d)
	}
	if status, _, said := command(t, "calibrate", "remove", "2", "--yes", "--db", path); status != 0 {
		t.Errorf("status %d, %s", status, said)
	}
	if _, out, _ := command(t, "calibrate", "list", "--db", path); out != "no calibration is stored\n" || all().Calibrations == nil {
		t.Errorf("%q", out)
	}
}

// A dongle that is pulled out in the middle: nothing is stored, and the line says so.
func TestCalibrateUnplugged(t *testing.T) {
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "terminated 1")
	// 58 readings of 1 s: it goes on until the dongle is pulled, after some.
	plan, err := os.ReadFile(b.plan)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(b.plan, []byte(strings.Replace(string(plan), `dwell = "40ms"`, `dwell = "1s"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	status := filepath.Join(b.folder, "status")
	b.set(t, "status", status)
	b.set(t, "pulled", "3.5 1000")
	said, err := b.command("calibrate", "noise", "--plan", b.plan, "--db", b.database, "--yes").CombinedOutput()
	var failed *exec.ExitError
	if !errors.As(err, &failed) || failed.ExitCode() != 1 || !strings.Contains(string(said), "nothing was stored; plug it in and start again") || len(b.calibrations(t)) != 0 {
		t.Errorf("%v: %s", err, said)
	}
	text, err := os.ReadFile(status)
	if tuned := strings.Count(string(text), "tune "); err != nil || tuned < 3 {
		t.Errorf("%v; pulled after %d tunings, want 3 and more: it measures", err, tuned)
	}
}

// A generator that is off is not said to clip.
func TestCalibrateLevelOfNothing(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "terminated 1")
	said, err := b.command("calibrate", "level", "--plan", b.plan, "--db", b.database, "--yes", "--frequency", "9.652MHz", "--level", "-60 dBm").CombinedOutput()
	var status *exec.ExitError
	if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.Contains(string(said), "no carrier within 25 kHz of 9.652 MHz") || strings.Contains(string(said), "clips") {
		t.Errorf("%v: %s", err, said)
	}
	// One that clips at every gain: −20 dBm over a full scale of −40 dBm.
	b.set(t, "terminated", "0")
	b.set(t, "carrier", "9652000 -20")
	said, err = b.command("calibrate", "level", "--plan", b.plan, "--db", b.database, "--yes", "--frequency", "9.652MHz", "--level", "-20 dBm").CombinedOutput()
	if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.Contains(string(said), "it clips at 0.0, 0.9") {
		t.Errorf("%v: %s", err, said)
	}
}

// The bias tee, on in the plan, is off into a terminator before anybody is asked to
// connect it, and on where an antenna is.
func TestCalibrateBiasTee(t *testing.T) {
	t.Parallel()
	for kind, want := range map[string]string{"noise": "bias 0", "lines": "bias 0", "clock": "bias 1"} {
		b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, func(p string) string {
			return strings.NewReplacer(`front_end = `, "bias_tee = true\nfront_end = ", `"200ms"`, `"50ms"`).Replace(p)
		})
		status := filepath.Join(b.folder, "status")
		args, end := []string{kind}, "terminated 1"
		if kind == "clock" {
			args, end = append(args, "--for", "300ms", "--frequency", "9.65MHz"), "terminated 0"
		}
		b.control(t, append(append([]string{"antenna 0"}, benchSky...), "status "+status, end)...)
		b.calibrate(t, args...)
		text, err := os.ReadFile(status)
		if err != nil || strings.Count(string(text), "bias ") != strings.Count(string(text), want) || !strings.Contains(string(text), want) {
			t.Errorf("%s: want %q alone: %s (%v)", kind, want, text, err)
		}
	}
}

// Wrong usage: status 2, one line that says what to do, and no database.
func TestCalibrateUsage(t *testing.T) {
	database := filepath.Join(t.TempDir(), "night.db")
	plan := []string{"--plan", "testdata/two-setups.toml", "--db", database}
	for _, test := range []struct {
		args []string
		want string
	}{
		{[]string{"noise"}, "--plan"},
		{append([]string{"noise"}, plan...), "--yes"},
		{append([]string{"lines"}, plan...), "antenna's end of the feed line"},
		{append([]string{"linearity", "--yes"}, plan...), "program"},
		{append([]string{"linearity", "--yes", "--attenuation", "3 dB"}, plan...), "10 dB"},
		{append([]string{"linearity", "--yes", "--attenuation", "10"}, plan...), "unit dB"},
		{append([]string{"level", "--yes"}, plan...), "--noise-figure"},
		{append([]string{"level", "--yes", "--frequency", "9.652MHz", "--level", "-60"}, plan...), `write it as "-60 dBm"`},
		{append([]string{"level", "--yes", "--frequency", "9.652MHz", "--level", "−72.5"}, plan...), `write it as "-72.5 dBm"`},
		{append([]string{"level", "--yes", "--frequency", "9.652MHz", "--level", "low"}, plan...), `write it as "-60 dBm"`},
		{append([]string{"level", "--yes", "--frequency", "9.652MHz", "--level", "-141 dBm"}, plan...), "turn the generator up"},
		{append([]string{"level", "--yes", "--frequency", "1GHz", "--level", "-60 dBm"}, plan...), "hears up to 30 MHz"},
		{append([]string{"level", "--yes", "--noise-figure", "12"}, plan...), `write it as "12 dB"`},
		{append([]string{"level", "--yes", "--noise-figure", "51 dB"}, plan...), "within 0 to 50 dB"},
		{append([]string{"linearity", "--yes", "--attenuation", "20"}, plan...), `write it as "20 dB"`},
		{append([]string{"clock", "--yes", "--frequency", "1GHz"}, plan...), "hears up to 30 MHz"},
		{[]string{"remove", "--db", database}, "no number"},
		{[]string{"remove", "3", "x", "--db", database}, "not the number"},
		{[]string{"list", "word", "--db", database}, "word"},
		{append([]string{"level", "--yes", "--frequency", "9.652MHz", "--level", "-5 dBm"}, plan...), "may destroy the receiver"},
		{append([]string{"level", "--yes", "--frequency", "9.65", "--level", "-60 dBm"}, plan...), "no unit"},
		{append([]string{"level", "--yes", "--frequency", "9.652MHz", "--noise-figure", "8 dB"}, plan...), "choose one"},
		{append([]string{"lines", "--yes", "--at", "roof"}, plan...), "choose"},
		{append([]string{"clock", "--yes", "--for", "0s"}, plan...), "longer"},
		{append([]string{"clock", "--yes", "--antenna", "dish"}, plan...), "no setup"},
		{append([]string{"noise", "--yes", "--receiver", "file:x.cu8"}, plan...), "recording"},
		{append([]string{"linearity", "--yes", "--receiver", "scene:house?seed=1"}, plan...), "simulated house"},
		{append([]string{"noise", "--yes"}, append(plan, "word")...), "word"},
	} {
		status, out, errOut := command(t, append([]string{"calibrate"}, test.args...)...)
		if status != 2 || out != "" || strings.Count(errOut, "\n") != 1 || !strings.Contains(errOut, test.want) {
			t.Errorf("%v: status %d, %q%q; want 2 and %q", test.args, status, out, errOut, test.want)
		}
	}
	if _, err := os.Stat(database); err == nil {
		t.Error("wrong usage made a database")
	}
}

// In the simulated house the terminator is put in place by itself, and all that
// comes of it says what it is.
func TestCalibrateSimulated(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	text, err := os.ReadFile("testdata/two-setups.toml")
	if err != nil {
		t.Fatal(err)
	}
	plan := filepath.Join(folder, "plan.toml")
	short := strings.NewReplacer(`"200ms"`, `"50ms"`, `sample_rate = "2.4 MHz"`, `sample_rate = "1.6 MHz"`).Replace(string(text))
	if err := os.WriteFile(plan, []byte(short), 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := command(t, "calibrate", "noise", "--plan", plan, "--receiver", "scene:house?seed=1", "--db", filepath.Join(folder, "night.db"))
	if status != 0 || !strings.HasPrefix(out, "SIMULATED") || !strings.Contains(out, "49.6") || !strings.Contains(out, "31 m") {
		t.Errorf("status %d: %s%s", status, out, errOut)
	}
}
