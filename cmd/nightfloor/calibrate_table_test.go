package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"nightfloor/reports/calibration"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// dongles is how many dongles are calibrated, right and wrong.
var dongles = flag.Int("dongles", 1, "how many dongles TestCalibrationsRightAndWrong calibrates; 100 take a quarter of an hour")

// A dongle is what a stand-in is in truth.
type dongle struct {
	seed              int
	full, slope, ppm  float64 // dBm, dB a MHz, ppm
	drift             float64 // dB an hour
	generator, source float64 // dB: by how much what the operator says of them is off
}

// Truths that all dongles share.
const (
	dongleFigure  = 8.0
	dongleENR     = 15.0
	dongleLevel   = -72.0 // of the generator, at 9.652 MHz
	donglePad     = 10.0
	dongleWidth   = 1.6e6 // Hz, of the tuner's filter
	dongleRate    = 2.4e6
	toldGenerator = 0.1 // dB: how well generator and noise source are known
)

// dongleOf draws a dongle. Its gains are off their labels by benchSpread, by the stand-in's own draw.
func dongleOf(seed int) dongle {
	rng := rand.New(rand.NewPCG(uint64(seed), 13))
	return dongle{seed: seed, full: benchFull + 3*rng.NormFloat64(), slope: 0.05 * rng.NormFloat64(), ppm: 80 * (rng.Float64() - 0.5),
		drift: 0.2 * rng.NormFloat64(), generator: toldGenerator * rng.NormFloat64(), source: toldGenerator * rng.NormFloat64()}
}

// fullScale gives its true full scale at a label, tuned to a frequency.
func (d dongle) fullScale(label survey.DB, tuned float64) float64 {
	return d.full - trueGainOf(d.seed, e4000Steps, float64(label), benchSpread) - d.slope*(tuned/1e6-10)
}

// sky gives the stand-in's control lines for what is connected.
func (d dongle) sky(connected ...string) []string {
	return append([]string{"antenna 0", "queue 0.005", "upconverter 125000000", "tuner e4000", fmt.Sprintf("seed %d", d.seed), fmt.Sprintf("fullscale %g", d.full),
		fmt.Sprintf("figure %g", dongleFigure), fmt.Sprintf("gain_error %g", benchSpread), fmt.Sprintf("slope %g", d.slope), fmt.Sprintf("ppm %g", d.ppm),
		fmt.Sprintf("drift %g", d.drift), "ip3 -15", "ip2 30", "droop 1", fmt.Sprintf("if_width %g", dongleWidth)}, connected...)
}

// e4000Steps are the labels of the tuner that they have, dB.
var e4000Steps = []float64{-1, 1.5, 4, 6.5, 9, 11.5, 14, 16.5, 19, 21.5, 24, 29, 34, 42}

// tableRipple is how well the truth is known, dB: the stand-in's noise is read off a table of 2²¹ samples, 0.87 s, again and
// again, whose own spectrum is the same in all looks. Over the 50 kHz of a point, smeared by 10 kHz:
// 4.34/√(0.87 s · 55 kHz).
const tableRipple = 0.02

// Where the plan's segments are tuned to, about.
const tuned49, tuned31 = 5.891e6, 9.391e6

// otherBand marks figures at 6 MHz by a generator at 9.652 MHz: the front end's slope puts them off by more than
// 0.3 dB, and their uncertainty has it.
const otherBand = ", other band"

// A rightRow is what calibrations done right came to: how far each figure is from the truth, and by
// how much of its stated standard uncertainty (NaN: none is stated).
type rightRow struct {
	name, unit string
	truth      string
	off, share []float64
	seeds      []int // the dongle of each
}

// A wrongRow is what became of calibrations done wrong.
type wrongRow struct {
	name     string
	refused  int
	doubted  int
	accepted []int // seeds
	words    string
}

// A calibrationTable gathers both.
type calibrationTable struct {
	mu    sync.Mutex
	right []*rightRow
	wrong []*wrongRow
}

// figure adds one that was found.
func (c *calibrationTable) figure(d dongle, name, unit, truth string, off, sigma float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	i := slices.IndexFunc(c.right, func(r *rightRow) bool { return r.name == name })
	if i < 0 {
		i = len(c.right)
		c.right = append(c.right, &rightRow{name: name, unit: unit, truth: truth})
	}
	c.right[i].off = append(c.right[i].off, off)
	c.right[i].share = append(c.right[i].share, math.Abs(off)/sigma)
	c.right[i].seeds = append(c.right[i].seeds, d.seed)
}

// outcome adds what became of one done wrong: said is what was refused with, or the doubts.
func (c *calibrationTable) outcome(name string, seed int, refused bool, said string, words []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	i := slices.IndexFunc(c.wrong, func(r *wrongRow) bool { return r.name == name })
	if i < 0 {
		i = len(c.wrong)
		c.wrong = append(c.wrong, &wrongRow{name: name})
	}
	row := c.wrong[i]
	told := slices.ContainsFunc(words, func(w string) bool { return strings.Contains(said, w) })
	switch {
	case told && refused:
		row.refused++
	case told:
		row.doubted++
	default:
		row.accepted = append(row.accepted, seed)
	}
	if row.words == "" || !told {
		row.words = said
	}
}

// calibrates runs a calibration. Where it is refused, said is the line on standard error.
func (b *bench) calibrates(t *testing.T, args ...string) (d calibration.Document, refused bool, said string) {
	t.Helper()
	full := append([]string{"calibrate", args[0], "--plan", b.plan, "--db", b.database, "--yes", "--json"}, args[1:]...)
	cmd := b.command(full...)
	var out, errOut bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errOut
	if err := cmd.Run(); err != nil {
		if !strings.HasPrefix(errOut.String(), "nightfloor: ") {
			t.Errorf("%v: %v %s", full, err, errOut.String())
		}
		var usage *exec.ExitError // of which nothing needs to be said
		if n := strings.Count(strings.ToLower(errOut.String()), "nothing was stored"); errors.As(err, &usage) && usage.ExitCode() == 1 && n != 1 {
			t.Errorf("%v: that nothing was stored is said %d times: %s", full, n, errOut.String())
		}
		return d, true, errOut.String()
	}
	if err := json.Unmarshal(out.Bytes(), &d); err != nil {
		t.Fatalf("%v: %s", err, out.String())
	}
	return d, false, strings.Join(d.Doubts, "; ")
}

// right runs a calibration that must not be refused.
func (b *bench) right(t *testing.T, connected []string, d dongle, args ...string) calibration.Document {
	t.Helper()
	b.control(t, d.sky(connected...)...)
	found, refused, said := b.calibrates(t, args...)
	if refused {
		t.Errorf("dongle %d, %v: %s", d.seed, args, said)
	}
	if strings.Contains(said, drifts[0]) {
		t.Errorf("dongle %d is warm, %v: %s", d.seed, args, said)
	}
	return found
}

// program writes one that puts something in and out, or on and off, and gives its path.
func (b *bench) program(t *testing.T, name, in, out string) string {
	t.Helper()
	path := filepath.Join(b.folder, name)
	key, _, _ := strings.Cut(in, " ")
	writeProgram(t, path, fmt.Sprintf("#!/bin/sh\ncd %s\ncase $1 in in|on) line='%s';; *) line='%s';; esac\nsed '/^%s /d' control.txt > c.new && echo \"$line\" >> c.new && mv c.new control.txt\n", b.folder, in, out, key))
	return path
}

// generator writes a program that sets the stand-in's generator to either of two levels.
func (b *bench) generator(t *testing.T, upper, lower string) string {
	t.Helper()
	path := filepath.Join(b.folder, "generator")
	writeProgram(t, path, fmt.Sprintf("#!/bin/sh\ncd %s\ncase $1 in %g) line='%s';; *) line='%s';; esac\nsed '/^carrier /d' control.txt > c.new && echo \"$line\" >> c.new && mv c.new control.txt\n", b.folder, dongleLevel, upper, lower))
	return path
}

// passbandTruth gives what the stand-in's filters let through, dB: its README's figures of the decimation filter,
// and a Butterworth filter of the fourth order.
func passbandTruth(offset float64) float64 {
	f := math.Abs(offset) / 1e6
	at, db := []float64{0, 0.5, 0.8, 1, 1.2, 1.6, 2}, []float64{0, -0.06, -0.6, -1.5, -3, -8.6, -21}
	chord := func(i int) float64 { return (db[i+1] - db[i]) / (at[i+1] - at[i]) }
	slope := func(i int) float64 { // its README: a monotone cubic, flat at the centre
		if i == 0 {
			return 0
		}
		return 2 * chord(i-1) * chord(i) / (chord(i-1) + chord(i))
	}
	i := 0
	for f > at[i+1] {
		i++
	}
	h := at[i+1] - at[i]
	x := (f - at[i]) / h
	decimation := (1+2*x)*(1-x)*(1-x)*db[i] + x*(1-x)*(1-x)*h*slope(i) + x*x*(3-2*x)*db[i+1] + x*x*(x-1)*h*slope(i+1)
	return decimation - 10*math.Log10(1+math.Pow(2*offset/dongleWidth, 8))
}

var (
	terminated = []string{"terminated 1"}
	generator  = func(d dongle) []string {
		return []string{"terminated 0", "noise -173.975", fmt.Sprintf("carrier 9652000 %g", dongleLevel+d.generator)}
	}
	// evening is what an antenna hears: eight stations of both bands.
	evening = []string{"noise -145", "carrier 5950000 -95", "carrier 5995000 -95", "carrier 6070000 -95", "carrier 6105000 -95",
		"carrier 9615000 -95", "carrier 9650000 -95", "carrier 9700000 -95", "carrier 9825000 -95"}
	known = []string{"--uncertainty", fmt.Sprintf("%g dB", toldGenerator)}
	told  = func(level string) []string {
		return append([]string{"level", "--frequency", "9.652MHz", "--level", level}, known...)
	}
)

// tunedTo gives what the stand-in is tuned to, about, for something at a frequency. For the generator alone it is
// 0.2 MHz higher, which its slope makes 0.01 dB.
func tunedTo(f survey.Hz) float64 {
	if f < 7e6 {
		return tuned49
	}
	return tuned31
}

// levels adds full scales, against those of weak signals at the true gains.
func (c *calibrationTable) levels(name string, d dongle, rows []calibration.LevelRow) {
	for _, l := range rows {
		c.figure(d, name, "dBm", "full scale at the true gain", float64(l.FullScale)-d.fullScale(l.Gain, tunedTo(l.Frequency)), float64(l.Known))
	}
}

// figures adds noise figures.
func (c *calibrationTable) figures(name string, d dongle, found []level.Figure) {
	for _, f := range found {
		c.figure(d, name+map[bool]string{true: otherBand}[f.Segment == "49 m"], "dB", "8 dB", float64(f.Figure)-dongleFigure, float64(f.Uncertainty))
	}
}

// calibratedRight calibrates a dongle in all ways as it should be, and keeps the database with own noise alone.
func (c *calibrationTable) calibratedRight(t *testing.T, b *bench, d dongle) {
	c.noiseRight(t, b, d)
	copyDatabase(t, b.database, filepath.Join(b.folder, ownNoise))
	c.levelsRight(t, b, d)
	c.linearityRight(t, b, d)
	c.listeningRight(t, b, d)
}

func (c *calibrationTable) noiseRight(t *testing.T, b *bench, d dongle) {
	found := b.right(t, terminated, d, "noise")
	for _, p := range found.Droop {
		c.figure(d, "passband", "dB", "−0.1 dB at 0.5 MHz, −3.6 dB at 0.8 MHz", float64(p.Response)-passbandTruth(float64(p.Offset)), math.Hypot(float64(p.Sigma), tableRipple))
	}
	for _, n := range found.Noise {
		if !n.Rough() { // the others tell that they are off
			truth := density(-173.975, dongleFigure, -d.fullScale(n.Gain, tunedTo(n.Segment.Low)), dongleRate)
			c.figure(d, "own noise", "dBFS/Hz", "k·T·F, F = 8 dB, at the true gain", float64(n.Density)-truth, float64(n.Sigma))
		}
	}
}

func (c *calibrationTable) levelsRight(t *testing.T, b *bench, d dongle) {
	found := b.right(t, generator(d), d, rightLevel...)
	c.levels("level by generator", d, found.Levels)
	c.figures("noise figure by generator", d, found.Figures)
	found = b.right(t, terminated, d, append([]string{"level", "--noise-figure", "8 dB"}, known...)...)
	c.levels("level by noise figure", d, found.Levels)
	source := append(append([]string{"level", "--enr", fmt.Sprintf("%g dB", dongleENR)}, known...), "--", b.program(t, "source", "source 1", "source 0"))
	found = b.right(t, []string{fmt.Sprintf("enr %g", dongleENR+d.source), "source 0"}, d, source...)
	c.levels("level by noise source", d, found.Levels)
	for _, f := range found.Figures {
		c.figure(d, "noise figure by noise source", "dB", "8 dB", float64(f.Figure)-dongleFigure, float64(f.Uncertainty))
	}
	// A front end whose intercept is 47 dB lower is compressed by 0.9 dB at the upper of two levels.
	upper, lower := fmt.Sprintf("carrier 9652000 %g", dongleLevel+d.generator), fmt.Sprintf("carrier 9652000 %g", dongleLevel-10+d.generator)
	two := append(slices.Clone(rightLevel), "--second-level", fmt.Sprintf("%g dBm", dongleLevel-10), "--", b.generator(t, upper, lower))
	c.levels("level by two levels, compressed", d, b.right(t, append(generator(d), "ip3 -62"), d, two...).Levels)
}

func (c *calibrationTable) linearityRight(t *testing.T, b *bench, d dongle) {
	pad := b.program(t, "pad", fmt.Sprintf("attenuator %g", donglePad), "attenuator 0")
	for _, l := range b.right(t, evening, d, "linearity", "--attenuation", "10 dB", "--", pad).Linearity {
		if l.Verdict != survey.VerdictExternal {
			t.Errorf("dongle %d, %s: %s", d.seed, l.Segment.Name, l.Verdict)
		}
		if l.OutsideDrop != nil {
			c.figure(d, "linearity: outside noise", "dB", "falls by 10 dB", float64(*l.OutsideDrop)-donglePad, float64(*l.OutsideSigma))
		}
		if l.CarrierDrop != nil {
			c.figure(d, "linearity: carriers", "dB", "fall by 10 dB", float64(*l.CarrierDrop)-donglePad, float64(*l.CarrierSigma))
		}
	}
}

func (c *calibrationTable) listeningRight(t *testing.T, b *bench, d dongle) {
	lines := []string{"noise -172", "carrier 5955321 -112", "carrier 9612345 -110", "carrier 9723456 -115"}
	for _, l := range b.right(t, lines, d, "lines").Lines {
		for _, line := range lines[1:] {
			var at, level float64
			fmt.Sscanf(line, "carrier %g %g", &at, &level)
			if heard := (at+125e6)/(1+d.ppm*1e-6) - 125e6; math.Abs(heard-float64(l.Frequency)) < 20 {
				c.figure(d, "own lines: level", "dBFS", "at the true gain", float64(l.Level)-(level-d.fullScale(l.Gain, tunedTo(l.Frequency))), math.NaN())
				c.figure(d, "own lines: frequency", "Hz", "by the dongle's clock", float64(l.Frequency)-heard, math.NaN())
			}
		}
	}
	if e := b.right(t, evening, d, "clock", "--for", "1s").Clock; e != nil {
		c.figure(d, "clock", "ppm", "−40 to 40 ppm", e.PPM-d.ppm, e.Sigma)
	}
}

// leastFigures is how many a dongle gives at the least, by row.
var leastFigures = map[string]int{"passband": 0, "own noise": 8, "level by generator": 3, "noise figure by generator": 1, "noise figure by generator" + otherBand: 1,
	"level by noise figure": 8, "level by noise source": 8, "noise figure by noise source": 8, "level by two levels, compressed": 3,
	"linearity: outside noise": 2, "linearity: carriers": 2, "own lines: level": 3, "own lines: frequency": 3, "clock": 1}

// What a run done wrong begins with.
const (
	nothing  = "fresh.db" // the first run of all
	ownNoise = "noise.db" // own noise is calibrated, and right
	all      = "night.db" // everything is, and right
)

// A wrongWay is a way to do a calibration wrong, and the words of which one is to be said.
type wrongWay struct {
	name      string
	begins    string
	connected func(d dongle) []string
	args      []string
	pad       float64 // dB: of the attenuator in truth
	words     []string
}

// stations are what a good antenna hears beside its noise.
func stations(dongle) (sky []string) {
	sky = []string{"noise -150"}
	for i := range 24 {
		sky = append(sky, fmt.Sprintf("carrier %d -100", []int{5_900_000, 9_400_000}[i%2]+5000*(3*i+i*i%5)))
	}
	return sky
}

func connect(lines ...string) func(dongle) []string { return func(dongle) []string { return lines } }

// cold connects something to a dongle that was plugged in just now: 1.5 dB and 4 ppm settle.
func cold(connected func(dongle) []string) func(dongle) []string {
	return func(d dongle) []string { return append(slices.Clone(connected(d)), "warm_up 1.5 -4 600") }
}

// hot is a generator of −60 dBm, which clips at every gain at which own noise is known.
func hot(dongle) []string { return []string{"terminated 0", "noise -173.975", "carrier 9650000 -60"} }

// plugged connects something to a dongle that was plugged in just now: 3 dB and 40 ppm settle. Readings are a twelfth as
// long as usual, and settling takes 48 s in place of ten minutes.
func plugged(connected func(dongle) []string) func(dongle) []string {
	return func(d dongle) []string { return append(slices.Clone(connected(d)), "warm_up 3 -40 48") }
}

var (
	drifts     = []string{"the receiver drifts"}
	rightLevel = told(fmt.Sprintf("%g dBm", dongleLevel))
	antennaOn  = []string{"an antenna seems to be connected", "a terminator overloads none"}
	differs    = []string{"differs from that of calibration"}
	pad        = []string{"the attenuator takes off something else"}
	impossible = []string{"nothing real is under 0", "tuners have 5 to 20"}
)

// wrongWays are the eight: each as the first run of its kind, and where it may be known better.
var wrongWays = []wrongWay{
	{"antenna left on, stations: noise", nothing, stations, []string{"noise"}, 0, antennaOn},
	{"antenna left on, stations: level by noise figure", nothing, stations, []string{"level", "--noise-figure", "8 dB"}, 0, antennaOn},
	{"antenna left on, stations: own lines", nothing, stations, []string{"lines"}, 0, antennaOn},
	{"antenna left on, noise alone: noise after a right one", ownNoise, connect("noise -160"), []string{"noise"}, 0, append(differs, antennaOn...)},
	{"antenna left on, noise alone: noise after a right level", all, connect("noise -160"), []string{"noise"}, 0, append(differs, antennaOn...)},
	{"generator off", nothing, connect("terminated 1"), rightLevel, 0, []string{"check that the generator is on"}},
	{"generator off, antenna on: after own noise", ownNoise, connect(evening...), rightLevel, 0, append(antennaOn, "stands alone", "nothing real", "tuners have")},
	{"generator off, antenna on: first of all", nothing, connect(evening...), rightLevel, 0, append(antennaOn, "nothing tells whether the level is right")},
	{"generator off, antenna on, many stations", nothing, stations, rightLevel, 0, antennaOn},
	{"generator off, antenna on, one station", nothing, connect("noise -145", "carrier 9650000 -80 am 0.4 700"), rightLevel, 0, []string{"is modulated"}},
	{"wrong level, 20 dB under: first of all", nothing, generator, told("-92 dBm"), 0, []string{"nothing tells whether the level is right"}},
	{"wrong level, 20 dB under: after own noise", ownNoise, generator, told("-92 dBm"), 0, impossible},
	{"wrong level, 20 dB over: after own noise", ownNoise, generator, told("-52 dBm"), 0, impossible},
	{"wrong level, 20 dB under, too strong for own noise: after own noise", ownNoise, hot, told("-80 dBm"), 0, append(impossible, "cannot be right", "could not be checked")},
	{"wrong level, 20 dB over, too strong for own noise: after own noise", ownNoise, hot, told("-40 dBm"), 0, append(impossible, "could not be checked")},
	{"wrong level, 3 dB under: after a right one", all, generator, told("-75 dBm"), 0, differs},
	{"wrong level, 3 dB over: after a right one", all, generator, told("-69 dBm"), 0, differs},
	{"wrong unit: dBµV", nothing, generator, told("35 dBµV"), 0, []string{"dBm at 50 Ω"}},
	{"wrong unit: dBµV called dBm", nothing, generator, told("35 dBm"), 0, []string{"may destroy"}},
	{"6 dB pad for 10", all, connect(evening...), []string{"linearity", "--attenuation", "10 dB"}, 6, pad},
	{"6 dB pad for 10, own noise not known", nothing, connect(evening...), []string{"linearity", "--attenuation", "10 dB"}, 6, pad},
	{"3 dB pad for 10", all, connect(evening...), []string{"linearity", "--attenuation", "10 dB"}, 3, pad},
	{"3 dB pad for 10, own noise not known", nothing, connect(evening...), []string{"linearity", "--attenuation", "10 dB"}, 3, pad},
	{"cold dongle: noise", all, cold(connect("terminated 1")), []string{"noise"}, 0, differs},
	{"cold dongle: level", all, cold(generator), rightLevel, 0, differs},
	{"cold dongle: noise, first of all", nothing, plugged(connect("terminated 1")), []string{"noise"}, 0, drifts},
	{"cold dongle: level, first of all", nothing, plugged(generator), rightLevel, 0, drifts},
	{"cold dongle: level by noise figure, first of all", nothing, plugged(connect("terminated 1")), []string{"level", "--noise-figure", "8 dB"}, 0, drifts},
	{"cold dongle: clock, first of all", nothing, plugged(connect(evening...)), []string{"clock", "--for", "1s"}, 0, drifts},
	{"wrong gain (it is stuck): noise", nothing, connect("terminated 1", "stuck 24"), []string{"noise"}, 0, []string{"is the same at all gains"}},
	{"wrong gain (it is stuck): noise after a right one", ownNoise, connect("terminated 1", "stuck 24"), []string{"noise"}, 0, append(differs, "is the same at all gains")},
	{"wrong gain (it is stuck): level", nothing, func(d dongle) []string { return append(generator(d), "stuck 11.5") }, rightLevel, 0, []string{"the same at all gains", "of no use at any gain"}},
	{"wrong gain (it is stuck): level after own noise", ownNoise, func(d dongle) []string { return append(generator(d), "stuck 11.5") }, rightLevel, 0, append(impossible, "the same at all gains", "of no use at any gain")},
}

// calibratedWrong calibrates the dongle in all ways wrong, each into a copy of what it begins with.
func (c *calibrationTable) calibratedWrong(t *testing.T, b *bench, d dongle) {
	for _, w := range wrongWays {
		there := *b
		there.database = filepath.Join(b.folder, "wrong.db")
		must(t, os.RemoveAll(there.database))
		if w.begins != nothing {
			copyDatabase(t, filepath.Join(b.folder, w.begins), there.database)
		}
		before := 0
		if exists(there.database) {
			before = len(there.calibrations(t))
		}
		b.control(t, d.sky(w.connected(d)...)...)
		args := w.args
		if w.pad > 0 {
			args = append(slices.Clone(args), "--", b.program(t, "pad", fmt.Sprintf("attenuator %g", w.pad), "attenuator 0"))
		}
		_, refused, said := there.calibrates(t, args...)
		c.outcome(w.name, d.seed, refused, said, w.words)
		if after := 0; refused && exists(there.database) {
			if after = len(there.calibrations(t)); after != before {
				t.Errorf("dongle %d, %s: refused, and %d calibrations are stored, %d before", d.seed, w.name, after, before)
			}
		}
	}
}

// Dongles of a noise figure of 8 dB, whose gains are not what their labels say, whose full scale falls with frequency,
// which drift, are not linear, and whose clock is off, calibrated with generator, noise source, attenuator and antenna.
// Done right, 95 of 100 figures are within 0.3 dB of the truth, and within twice their stated standard uncertainty. Done
// wrong, each is refused or doubted.
func TestCalibrationsRightAndWrong(t *testing.T) {
	t.Parallel()
	notInShort(t)
	var table calibrationTable
	t.Run("dongles", func(t *testing.T) {
		for seed := 1; seed <= *dongles; seed++ {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				d := dongleOf(seed)
				b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, upconverted, d.sky("terminated 1")...)
				table.calibratedRight(t, b, d)
				table.calibratedWrong(t, b, d)
			})
		}
	})
	table.judge(t)
}

// holds counts the figures of which something holds, and gives the standard error of their share: figures of one
// dongle are off alike, so that dongles are compared; less than that of as many independent ones is not believed.
func (r *rightRow) holds(what func(i int) bool) (held int, share, sigma float64) {
	of, all := map[int]float64{}, map[int]float64{}
	for i, seed := range r.seeds {
		all[seed]++
		if what(i) {
			of[seed]++
			held++
		}
	}
	n, squares := float64(len(r.seeds)), 0.0
	share = float64(held) / n
	for seed := range all {
		squares += math.Pow(of[seed]-share*all[seed], 2)
	}
	return held, share, max(math.Sqrt(squares)/n, math.Sqrt(0.95*0.05/n))
}

// judge prints the table, and fails what is not as it should be: where the share of figures that hold is so far
// below 95 of 100 that chance makes it so in one of a hundred cases.
func (c *calibrationTable) judge(t *testing.T) {
	t.Logf("%-40s %-9s %-42s %7s %8s %7s %7s %11s %11s", "done right", "unit", "truth", "figures", "mean off", "sd", "worst", "in 0.3", "in 2 u")
	for _, r := range c.right {
		sum, squares, worst := 0.0, 0.0, 0.0
		for _, off := range r.off {
			sum, squares, worst = sum+off, squares+off*off, max(worst, math.Abs(off))
		}
		n := float64(len(r.off))
		near, nearShare, nearSigma := r.holds(func(i int) bool { return math.Abs(r.off[i]) <= 0.3 })
		held, heldShare, heldSigma := r.holds(func(i int) bool { return !(r.share[i] > 2) }) // where none is stated, too
		t.Logf("%-40s %-9s %-42s %7d %8.3f %7.3f %7.3f %5d %3.0f %% %5d %3.0f %%", r.name, r.unit, r.truth, len(r.off), sum/n, math.Sqrt(max(0, squares/n-sum*sum/n/n)), worst, near, 100*nearShare, held, 100*heldShare)
		if r.unit != "Hz" && !strings.HasSuffix(r.name, otherBand) && nearShare+2.33*nearSigma < 0.95 || heldShare+2.33*heldSigma < 0.95 {
			t.Errorf("%s: %d of %d figures within 0.3 %s, %d within twice their standard uncertainty; want 95 of 100", r.name, near, len(r.off), r.unit, held)
		}
	}
	for name, least := range leastFigures {
		i := slices.IndexFunc(c.right, func(r *rightRow) bool { return r.name == name })
		if i < 0 || len(c.right[i].off) < least**dongles {
			t.Errorf("%s: fewer than %d figures a dongle", name, least)
		}
	}
	t.Logf("%-60s %8s %8s %8s  %s", "done wrong", "refused", "doubted", "accepted", "in these words")
	for _, w := range c.wrong {
		t.Logf("%-60s %8d %8d %8d  %s", w.name, w.refused, w.doubted, len(w.accepted), strings.TrimSpace(w.words))
		if len(w.accepted) > 0 {
			t.Errorf("%s: accepted without a doubt, dongles %v: %s", w.name, w.accepted, w.words)
		}
	}
}
