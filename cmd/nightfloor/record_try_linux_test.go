package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/turn/turntest"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/trials"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// edited writes a plan of testdata with changes, and gives its path.
func edited(t *testing.T, name string, changes ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "plan.toml")
	if err := os.WriteFile(path, []byte(strings.NewReplacer(changes...).Replace(string(text))), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// tried runs record --try with 80 columns; a database must not come of it.
func tried(t *testing.T, plan string, args ...string) (status int, out, errOut string) {
	t.Helper()
	t.Setenv("COLUMNS", "80")
	database := filepath.Join(t.TempDir(), "night.db")
	status, out, errOut = command(t, append([]string{"record", "--try", "--plan", plan, "--db", database}, args...)...)
	if _, err := os.Stat(database); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a database is there: %v", err)
	}
	return status, out, errOut
}

// In the simulated house all setups are heard, and the way on is named.
func TestTryInTheHouse(t *testing.T) {
	plan := edited(t, "two-setups.toml", `"200ms"`, `"50ms"`, `"2.4 MHz"`, `"1.6 MHz"`)
	status, out, errOut := tried(t, plan, "--receiver", "scene:house?seed=1")
	if status != 0 || !strings.Contains(errOut, "nightfloor: ready, begin with: nightfloor record --plan "+plan+" --receiver 'scene:house?seed=1' --db ") ||
		!strings.Contains(errOut, "caution: from now on a program switches antennas: no transmitter on any of them") {
		t.Errorf("status %d: %s", status, errOut)
	}
	holdTo(t, filepath.Join("testdata", "try-house.txt"), out)
}

// The way on ends when the survey was to end; a time that is none is found before anything moves.
func TestTryKeepsTheEnd(t *testing.T) {
	if status, _, errOut := tried(t, edited(t, "two-setups.toml"), "--receiver", "scene:house?seed=1", "--until", "soon"); status != 2 || strings.Contains(errOut, "caution") {
		t.Errorf("status %d: %s", status, errOut)
	}
	o := recordOptions{plan: "my plan.toml", duration: 8 * time.Hour, until: "2026-11-04 06:30", fresh: true, try: true}
	const want = "nightfloor record --plan 'my plan.toml' --until '2026-11-04 06:30' --for 8h0m0s --new"
	if got := o.commandLine(); got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// A rotator that does not answer: what it turns is not heard, the rest is.
func TestTryWithARotatorThatFails(t *testing.T) {
	plan := edited(t, "rotator.toml", "127.0.0.1:4533", "127.0.0.1:9", "tolerance = 2", "tolerance = 2\ntime_out = \"1s\"", "[0, 30, 60, 90, 120, 150]", "[0]", `"200ms"`, `"50ms"`)
	status, out, errOut := tried(t, plan)
	if status != 1 || !strings.HasSuffix(errOut, "nightfloor: record --try: 1 of 2 setups could not be heard: loop@loft:0; put right what is said above, or take them out of the plan, and try again\n") ||
		!strings.Contains(errOut, "nobody on mast or ladder") {
		t.Errorf("status %d: %s", status, errOut)
	}
	holdTo(t, filepath.Join("testdata", "try-rotator.txt"), out)
}

// floorFigure matches a floor in the table.
var floorFigure = regexp.MustCompile(`−(\d+\.\d)`)

// A relay that fails on a dongle: floors of what is heard are true, and what the relay said is told.
func TestTryWithARelayThatFails(t *testing.T) {
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, nil)
	b.relay(t, func(script string) string {
		return strings.Replace(script, "#!/bin/sh\n", "#!/bin/sh\n[ $1 = loop ] && echo relay 2 does not answer && exit 5\n", 1)
	})
	cmd := b.command("record", "--try", "--plan", b.plan, "--db", b.database)
	cmd.Env = append(cmd.Env, "COLUMNS=80")
	var out, errOut bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errOut
	var exit *exec.ExitError
	if err := cmd.Run(); !errors.As(err, &exit) || exit.ExitCode() != 1 || !strings.Contains(errOut.String(), "1 of 2 setups could not be heard: loop@study:40;") {
		t.Errorf("%v: %s", err, errOut.String())
	}
	if _, err := os.Stat(b.database); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a database is there: %v", err)
	}
	floors := floorFigure.FindAllStringSubmatch(out.String(), -1)
	want := density(-105+3.01, 8, 0, 2.4e6) // see TestDongleReadsTrue
	for _, f := range floors {
		if x, err := strconv.ParseFloat(f[1], 64); err != nil || math.Abs(-x-want) > 0.2 {
			t.Errorf("a floor of %s, want %.1f", f[0], want)
		}
	}
	if len(floors) != 2 {
		t.Errorf("%d floors, want those of two segments", len(floors))
	}
	shown := strings.ReplaceAll(floorFigure.ReplaceAllString(out.String(), "−nn.n"), b.folder, "/bench")
	shown = strings.Join(strings.Fields(shown[strings.Index(shown, "loop@study:40: "):]), " ") // lines break by the folder's length
	if want := `loop@study:40: the setup is not in place: /bench/relay: exit status 5 (it said "relay 2 does not answer"); run it by hand to see why`; shown != want {
		t.Errorf("%s\nwant %s", shown, want)
	}
}

// A dongle that is pulled out ends it; one that is overloaded is heard, and that is remarked on.
func TestTryWithADongleInTrouble(t *testing.T) {
	t.Parallel()
	for sky, test := range map[string]struct {
		status    int
		out, said string
	}{
		"pulled 0.3 50":      {1, "whip@study       yes      –", "nightfloor: record --try: after 0 of 2 setups: read 31 m at 9.39115 MHz: receiver rtlsdr:serial=00000001: receiver unplugged; plug it in and try again\n"},
		"branch i":           {1, "low-drive: next to nothing arrives; a\n  plain dongle hears nothing in direct sampling Q without a tap at that input of its chip", "nightfloor: record --try: 2 of 2 setups could not be heard: whip@study, loop@study:40; put right"},
		"carrier 6075000 12": {0, "whip@study on 49 m, loop@study:40 on 49 m: overload: signals are too strong", "nightfloor: all setups were heard; if what is said above is right for you, begin with: nightfloor record --plan "},
	} {
		b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, nil, sky)
		cmd := b.command("record", "--try", "--plan", b.plan, "--db", b.database)
		var out, errOut bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errOut
		_ = cmd.Run() // its status is looked at
		if status := cmd.ProcessState.ExitCode(); status != test.status || !strings.Contains(out.String(), test.out) || !strings.Contains(errOut.String(), test.said) || strings.Contains(out.String(), "unplugged") {
			t.Errorf("%s: status %d\n%s%s", sky, status, out.String(), errOut.String())
		}
	}
}

// A dongle with nothing plugged in shows its own noise at the highest gain, which is said; so is a relay
// that switches nothing.
func TestTryOfWhatIsNotConnected(t *testing.T) {
	t.Parallel()
	tuner := func(p string) string {
		return strings.Replace(p, `"direct sampling Q"`, `"built-in up-converter"`, 1)
	}
	still := func(p string) string {
		return regexp.MustCompile(`command = .*`).ReplaceAllString(tuner(p), `command = ["true"]`)
	}
	built := []string{"tuner r828d", "builtin_upconverter 1"}
	const unplugged, stuck = "is the antenna connected?", "does the relay switch?"
	for _, test := range []struct {
		name  string
		edit  func(string) string
		sky   []string
		said  []string
		quiet []string
	}{
		{"unplugged", tuner, []string{"terminated 1", "figure 24"}, []string{"good 49.6 0 −", "whip@study, loop@study:40: no carrier is heard in any segment, at the highest gain; is the antenna connected?"}, []string{stuck}},
		{"unplugged and silent", tuner, []string{"terminated 1"}, []string{"see whether the antenna is connected", "2 of 2 setups could not be heard"}, []string{stuck}},
		{"a relay that does not switch", still, nil, []string{"whip@study and loop@study:40: floors and carriers are the same through both; " + stuck}, []string{unplugged}},
		{"a dongle without an up-converter", tuner, []string{"tuner r820t"}, []string{"the tuner does not lock; front_end is \"built-in up-converter\", which only dongles with an R828D have, and this one has an R820T: write front_end = "}, nil},
		{"all well", tuner, nil, nil, []string{unplugged, stuck}},
	} {
		b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, test.edit, append(slices.Clone(built), test.sky...)...)
		cmd := b.command("record", "--try", "--plan", b.plan, "--db", b.database)
		cmd.Env = append(cmd.Env, "COLUMNS=200")
		output, err := cmd.CombinedOutput()
		out := strings.Join(strings.Fields(string(output)), " ")
		for _, said := range test.said {
			if !strings.Contains(out, said) {
				t.Errorf("%s: %v, want %q:\n%s", test.name, err, said, out)
			}
		}
		for _, unsaid := range test.quiet {
			if strings.Contains(out, unsaid) {
				t.Errorf("%s: %q is said:\n%s", test.name, unsaid, out)
			}
		}
	}
}

// A database that holds the receiver's own noise is asked for the margin; it is left as it is.
func TestTryWithOwnNoise(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0, "loop": -60}, func(p string) string {
		return strings.Replace(p, `"direct sampling Q"`, `"built-in up-converter"`, 1)
	}, "tuner r828d", "builtin_upconverter 1", "figure 24", "terminated 1")
	run := func(args ...string) string {
		cmd := b.command(append(args, "--plan", b.plan, "--db", b.database)...)
		cmd.Env = append(cmd.Env, "COLUMNS=200")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		return string(out)
	}
	run("calibrate", "noise", "--yes")
	b.set(t, "terminated", "")
	before, err := os.ReadFile(b.database)
	if err != nil {
		t.Fatal(err)
	}
	out := run("record", "--try")
	if after, err := os.ReadFile(b.database); err != nil || !bytes.Equal(before, after) {
		t.Errorf("the database was written to: %v", err)
	}
	// The loop's noise of −165 dBm/Hz under the receiver's own of −150 leaves 0.1 dB.
	if !regexp.MustCompile(`loop@study:40 .* 0\.[0-3] +−`).MatchString(out) || !strings.Contains(out, "loop@study:40 on 49 m and 31 m: receiver-limited: the floor stands less than 3 dB over") || strings.Contains(out, "whip@study on") {
		t.Errorf("not said of the loop, or of the whip too:\n%s", out)
	}
}

// A person is asked for every setup, and one that is left out counts.
func TestTryByHand(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "plan.toml")
	if err := os.WriteFile(path, []byte(byHand), 0o644); err != nil {
		t.Fatal(err)
	}
	p := turntest.OpenPTY(t)
	p.Columns(t, 80)
	status := make(chan int, 1)
	go func() {
		status <- run(t.Context(), console.New(p.Terminal, p.Terminal, p.Terminal), []string{"record", "--try", "--plan", path, "--db", path + ".db"})
	}()
	p.Await(t, "Connect the whip in the study, and press Enter.")
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "\n")
	p.Await(t, "trying 1 of 2  listening through whip@study")
	if drawn := p.Await(t, "Connect the loop in the study, turn its plane to 070°, and press"); strings.Contains(drawn, "changing to") {
		t.Errorf("%q stands by the question", drawn)
	}
	p.Await(t, "? for cautions.)\n")
	p.Types(t, "s\n")
	printed := p.Await(t, "1 of 2 setups could not be heard: loop@study:70;")
	if got := <-status; got != 1 || strings.Contains(printed, "trying") || !strings.Contains(printed, "loop@study:70: the setup is not in place: left out by the operator\n") {
		t.Errorf("status %d: %s", got, printed)
	}
}

// An interrupt ends the trials.
func TestTryIsInterrupted(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "plan.toml")
	if err := os.WriteFile(path, []byte(byHand), 0o644); err != nil {
		t.Fatal(err)
	}
	p := turntest.OpenPTY(t)
	ctx, interrupt := context.WithCancel(t.Context())
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, console.New(p.Terminal, p.Terminal, p.Terminal), []string{"record", "--try", "--plan", path, "--db", path + ".db"})
	}()
	p.Await(t, "? for cautions.)\n")
	interrupt()
	p.Await(t, "\nnightfloor: record --try: stopped by the operator after 0 of 2 setups; nothing was stored; start it again when it suits\n")
	if got := <-status; got != 1 {
		t.Errorf("status %d", got)
	}
}

// Whatever can be wrong with a setup stands below the table, with what to do.
func TestTrialsAreShown(t *testing.T) {
	t.Setenv("COLUMNS", "80")
	lower, upper := survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.2e6}, survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	reading := func(s survey.Segment, floor survey.DBFSPerHz, gain survey.DB, flags ...string) survey.Reading {
		r := survey.Reading{Segment: s, Gain: survey.Gain{DB: gain, Known: true}, Quality: survey.Quality{Flags: flags}, Carriers: []survey.Carrier{{Frequency: s.Low, Power: 1e-6, Detected: true}}}
		if floor != 0 {
			r.Floor = &survey.Floor{Density: floor}
		}
		return r
	}
	var p plan.Plan
	p.Segments = []survey.Segment{lower, upper}
	var tried []capture.Trial
	for i, trial := range []capture.Trial{
		{Readings: []survey.Reading{reading(lower, -96.04, 20.7), reading(upper, -98.2, 29.7)}},
		{Readings: []survey.Reading{reading(lower, -80.1, 0, survey.FlagOverload), reading(upper, -98.2, 0)}},
		{Readings: []survey.Reading{reading(lower, -99.1, 49.6, survey.FlagLowDrive), reading(upper, -99.2, 49.6, survey.FlagLowDrive)}},
		{Readings: []survey.Reading{reading(lower, 0, 20.7, survey.FlagCrowded), reading(upper, -99.2, 20.7, survey.FlagDroppedSamples, survey.FlagNyquistImage)}},
		{Reached: capture.Reached{Setup: survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(70)}, Bearing: survey.BearingOf(70), Said: "asked for 110°, stands at 070° and does not move"},
			Readings: []survey.Reading{reading(lower, -96, 20.7), reading(upper, -98, 20.7)}},
		{Reached: capture.Reached{Said: survey.SaidUnconfirmed + " since nobody answered the question before"}, Readings: []survey.Reading{reading(lower, -96, 20.7), reading(upper, -98, 20.7)}},
		{},
		{Err: fmt.Errorf("%w: rotator at 127.0.0.1:4533: it does not come to rest", capture.ErrNotReached)},
	} {
		trial.Asked = survey.Setup{Antenna: "loop", Placement: "loft", Bearing: survey.BearingOf(float64(10 * i))}
		if trial.Reached.Setup == (survey.Setup{}) && trial.Err == nil {
			trial.Reached.Setup = trial.Asked
		}
		tried = append(tried, trial)
	}
	for name, info := range map[string]capture.Info{
		"try-gains.txt":    {Gains: []survey.DB{0, 20.7, 29.7, 49.6}},
		"try-no-gains.txt": {},
	} {
		var out bytes.Buffer
		unknown := func(survey.Segment, survey.DB) (survey.DBFSPerHz, bool) { return 0, false }
		if remarked, err := trials.Write(console.New(nil, &out, nil), p, info, tried, len(tried), unknown); err != nil || !remarked {
			t.Fatal(remarked, err)
		}
		holdTo(t, filepath.Join("testdata", name), out.String())
	}
}
