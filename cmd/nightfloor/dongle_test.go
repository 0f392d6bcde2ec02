package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/capture/rtlsdr/rtlsdrtest"
	"nightfloor/store"
	"nightfloor/survey"
)

// A bench is a dongle's place with the stand-in on it, a relay that changes its
// antenna, a plan and a database.
type bench struct {
	folder   string
	env      []string
	database string
	plan     string
	lockedBy func() // lets go of the database; nil: nobody has it
}

// The sky of the bench, dBm at the terminal of an antenna of 0 dB; full scale is
// 0 dBm at gain 0.
var benchSky = []string{"queue 0.025", "noise -105", "figure 8",
	"carrier 6070000 -55", "carrier 6115003.5 -65", "carrier 9650000 -60", "carrier 9700000.25 -62"}

// newBench readies one. Antennas gives the gain of each, dB; edit changes the plan.
func newBench(t testing.TB, antennas map[string]float64, edit func(plan string) string, sky ...string) *bench {
	t.Helper()
	if errors.Is(standInErr, rtlsdrtest.ErrNoCompiler) {
		if os.Getenv("CI") == "true" {
			t.Fatal(standInErr)
		}
		t.Skip(standInErr)
	}
	if runtime.GOOS == "windows" {
		t.Skip("shell scripts do not run there")
	}
	b := &bench{folder: t.TempDir()}
	b.database = filepath.Join(b.folder, "night.db")
	b.plan = filepath.Join(b.folder, "plan.toml")
	control := filepath.Join(b.folder, "control.txt")
	b.env = append(append(os.Environ(), standInEnv...), asProgram+"=1", byStandIn+"=1", rtlsdrtest.ControlEnv+"="+control)
	b.control(t, append(append([]string{"antenna 0"}, benchSky...), sky...)...)
	relay := "#!/bin/sh\ncase \"$1\" in\n"
	for name, gain := range antennas {
		relay += fmt.Sprintf("%s) gain=%g;;\n", name, gain)
	}
	relay += fmt.Sprintf("*) exit 3;;\nesac\nsed \"s/^antenna .*/antenna $gain/\" %[1]s > %[1]s.new && mv %[1]s.new %[1]s\n", control)
	writeProgram(t, filepath.Join(b.folder, "relay"), relay)
	text, err := os.ReadFile("testdata/two-setups.toml")
	if err != nil {
		t.Fatal(err)
	}
	plan := strings.Replace(string(text), `"true"`, `"`+filepath.Join(b.folder, "relay")+`"`, 1)
	if edit != nil {
		plan = edit(plan)
	}
	if err := os.WriteFile(b.plan, []byte(plan), 0o644); err != nil {
		t.Fatal(err)
	}
	return b
}

// control writes the stand-in's control file.
func (b *bench) control(t testing.TB, lines ...string) {
	t.Helper()
	if err := rtlsdrtest.Control(filepath.Join(b.folder, "control.txt"), lines...); err != nil {
		t.Fatal(err)
	}
}

// set changes one key in the control file, or adds it; with "" it goes.
func (b *bench) set(t *testing.T, key, value string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(b.folder, "control.txt"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	found := false
	for i, line := range lines {
		if strings.HasPrefix(line, key+" ") {
			lines[i], found = key+" "+value, true
		}
	}
	if !found {
		lines = append(lines, key+" "+value)
	}
	lines = slices.DeleteFunc(lines, func(line string) bool { return line == key+" " }) // back to its default
	b.control(t, lines...)
}

// relay changes the program that changes the antenna.
func (b *bench) relay(t *testing.T, edit func(script string) string) {
	t.Helper()
	path := filepath.Join(b.folder, "relay")
	script, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	writeProgram(t, path, edit(string(script)))
}

// command readies nightfloor as a process of its own.
func (b *bench) command(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = b.env
	return cmd
}

// record carries out the plan to its end, and gives what it said.
func (b *bench) record(t *testing.T, args ...string) string {
	t.Helper()
	said, err := b.command(append([]string{"record", "--verbose", "--plan", b.plan, "--db", b.database}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	return string(said)
}

// sweeps reads what is stored, and checks that the database is whole.
func (b *bench) sweeps(t testing.TB) ([]*survey.Sweep, []survey.Survey, []survey.Gap) {
	t.Helper()
	db, err := store.Open(t.Context(), b.database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(t.Context()); err != nil {
		t.Fatal(err)
	}
	var all []*survey.Sweep
	err = db.Sweeps(t.Context(), store.Filter{}, func(s *survey.Sweep) error {
		all = append(all, s)
		return nil
	})
	surveys, err2 := db.Surveys(t.Context())
	gaps, err3 := db.Gaps(t.Context(), 0)
	if err := errors.Join(err, err2, err3); err != nil {
		t.Fatal(err)
	}
	return all, surveys, gaps
}

// density gives what a floor must read, dBFS/Hz: noise from outside through the
// antenna, the receiver's own, the gain, and that of rounding to 8 bits.
func density(outside, figure, gain, rate float64) float64 {
	const room = -173.975 // k · 290 K, dBm/Hz
	linear := func(db float64) float64 { return math.Pow(10, db/10) }
	own := linear(room+figure) - linear(room)
	return 10 * math.Log10((linear(outside)+own)*linear(gain)+2.0/12/(128*128)/rate)
}

// Through the stand-in, from the driver's call to the stored reading: carriers at
// their true radio frequencies, floors as built in, for each way of receiving.
func TestDongleReadsTrue(t *testing.T) {
	notInShort(t)
	t.Parallel()
	lines := map[string][]float64{"49 m": {6070000, 6115003.5}, "31 m": {9650000, 9700000.25}}
	for _, test := range []struct {
		name    string
		edit    func(string) string
		sky     []string
		outside float64
	}{
		// Direct sampling hears noise of both halves below its clock: 3.01 dB more.
		{"direct sampling", nil, nil, -105 + 3.01},
		{"direct sampling, long queue", func(p string) string { return strings.Replace(p, "rounds = 6", "rounds = 2", 1) }, []string{"queue 1.5"}, -105 + 3.01},
		{"up-converter, wrong clock", func(p string) string {
			return strings.Replace(p, `front_end = "direct sampling Q"`, "front_end = \"up-converter\"\noffset = \"125 MHz\"\nclock_error = \"23.5 ppm\"", 1)
		}, []string{"upconverter 125000000", "ppm 23.5", "noise -150", "carrier 6070000 -105", "carrier 6115003.5 -110", "carrier 9650000 -108", "carrier 9700000.25 -110"}, -150},
	} {
		t.Run(test.name, func(t *testing.T) {
			if strings.HasSuffix(test.name, "long queue") {
				notInShort(t)
			}
			b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, test.edit)
			sky := append([]string{"antenna 0"}, benchSky...)
			if strings.HasPrefix(test.name, "up") {
				sky = []string{"antenna 0", "queue 0.025", "figure 8"}
			}
			b.control(t, append(sky, test.sky...)...)
			b.record(t, "--for", "60s")
			sweeps, surveys, gaps := b.sweeps(t)
			rounds := map[bool]int{false: 6, true: 2}[strings.HasSuffix(test.name, "long queue")]
			if len(sweeps) != rounds*2*2 || surveys[0].Ending != "all rounds done" || surveys[0].Simulated || len(gaps) != 0 {
				t.Fatalf("%d sweeps, %+v, gaps %v", len(sweeps), surveys, gaps)
			}
			for _, s := range sweeps {
				loss := map[string]float64{"whip": 0, "loop": -6}[s.Setup.Antenna]
				for _, r := range s.Readings {
					want := density(test.outside+loss, 8, float64(r.Gain.DB), float64(r.SampleRate))
					// 0.2 s of some 250 kHz free: 0.02 dB a sigma.
					if r.Floor == nil || math.Abs(float64(r.Floor.Density)-want) > 0.2 {
						t.Errorf("%v, %s: floor %+v, want %.2f at gain %v", s.Setup, r.Segment.Name, r.Floor, want, r.Gain.DB)
					}
					seen := 0
					for _, c := range r.Carriers {
						if c.Detected {
							seen++
						}
					}
					for _, line := range lines[r.Segment.Name] {
						near := false
						for _, c := range r.Carriers {
							near = near || c.Detected && math.Abs(float64(c.Frequency)-line) < 5
						}
						if !near {
							t.Errorf("%v, %s: no carrier within 5 Hz of %.2f: %v", s.Setup, r.Segment.Name, line, r.Carriers)
						}
					}
					if seen != 2 || r.Quality.DroppedSamples != 0 {
						t.Errorf("%v, %s: %d carriers, want 2 (nothing of another tuning); %d samples lost", s.Setup, r.Segment.Name, seen, r.Quality.DroppedSamples)
					}
				}
			}
		})
	}
}

// Two setups 30 dB apart each get a gain that drives the converter and does not
// overload it, and the ranking comes out as built in: carriers 30 dB lower over a
// floor that is lower by less, for the noise of receiver and converter in it.
func TestSetupsFarApart(t *testing.T) {
	notInShort(t)
	t.Parallel() // it waits, mostly
	b := newBench(t, map[string]float64{"whip": 30, "loop": 0}, func(p string) string {
		return strings.Replace(p, `front_end = "direct sampling Q"`, "front_end = \"up-converter\"\noffset = \"125 MHz\"", 1)
	})
	dongle := []string{"antenna 0", "queue 0.025", "upconverter 125000000", "figure 10", "gain_error 0.8"}
	b.control(t, append(dongle, "noise -160", "carrier 6070000 -110", "carrier 6115000 -112", "carrier 9650000 -110", "carrier 9700000 -114")...)
	b.record(t)
	sweeps, _, _ := b.sweeps(t)
	gains := map[[2]string]float64{}
	for _, s := range sweeps {
		for _, r := range s.Readings {
			gains[[2]string{s.Setup.Antenna, r.Segment.Name}] = float64(r.Gain.DB)
			if r.Quality.Has(survey.FlagOverload) || r.Quality.Has(survey.FlagLowDrive) {
				t.Errorf("%v, %s at %v dB: %v", s.Setup, r.Segment.Name, r.Gain.DB, r.Quality.Flags)
			}
		}
	}
	// Each floor is referred to the terminal; the true gain takes part where rounding does.
	fall := func(segment string) float64 {
		at := func(antenna string, outside float64) float64 {
			gain := trueGain(gains[[2]string{antenna, segment}], 0.8)
			return density(outside, 10, gain, 2.4e6) - gain
		}
		return at("whip", -130) - at("loop", -160)
	}
	for segment, s := range b.changes(t) {
		if want := fall(segment) - 30; math.Abs(*s.Advantage-want) > 0.3 || s.SignalChange != nil {
			t.Errorf("%s: loop %+.2f dB against the whip, want %+.2f; signal change %v, want null: gains are labels", segment, *s.Advantage, want, s.SignalChange)
		}
	}
	// A generator's carrier in each band makes measured gains of the labels.
	for _, hz := range []string{"6050000", "9650000"} {
		b.control(t, append(dongle, "noise -200", "carrier "+hz+" -55")...)
		b.calibrate(t, "level", "--frequency", hz+"Hz", "--level", "-55 dBm")
	}
	for segment, s := range b.changes(t) {
		if s.SignalChange == nil || math.Abs(*s.SignalChange+30) > 0.3 || math.Abs(*s.FloorChange+fall(segment)) > 0.3 {
			t.Errorf("%s: signal %v, floor %v dB through the loop, want −30 and %+.2f", segment, s.SignalChange, s.FloorChange, -fall(segment))
		}
	}
}

// changes gives what the ranking of all hours says of the loop, by segment.
func (b *bench) changes(t *testing.T) map[string]rankSetup {
	t.Helper()
	status, out, errOut := command(t, "report", "rank", "--db", b.database, "--format", "json")
	var rank rankDocument
	if err := json.Unmarshal([]byte(out), &rank); status != 0 || err != nil {
		t.Fatalf("status %d: %v %s", status, err, errOut)
	}
	found := map[string]rankSetup{}
	for _, segment := range rank.Segments {
		for _, s := range segment.Setups {
			if s.Antenna == "loop" && segment.Period == "all" {
				found[segment.Segment] = s
			}
		}
	}
	if len(found) != 2 {
		t.Fatalf("the loop is ranked in %d segments, want 2", len(found))
	}
	return found
}

// A dongle that is pulled for 5 s in mid-survey: the gap is marked, and all
// rounds are done.
func TestDongleIsPulled(t *testing.T) {
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, nil)
	// In the fourth visit, of two sweeps of some 0.5 s each, in the second. The relay
	// pulls it, while the time stands.
	pull := fmt.Sprintf("echo >> %[1]s.calls\n[ $(wc -l < %[1]s.calls) -eq 4 ] && echo pulled 0.8 5 >> %[2]s.new\nmv", filepath.Join(b.folder, "relay"), filepath.Join(b.folder, "control.txt"))
	b.relay(t, func(script string) string { return strings.Replace(script, "&& mv", "\n"+pull, 1) })
	said := b.record(t)
	faultRow(t, "the dongle is pulled out for 5 s", telling(said), holds(t, b.database), 0)
	sweeps, surveys, gaps := b.sweeps(t)
	if len(sweeps) != 24 || surveys[0].Ending != "all rounds done" || len(surveys) != 1 {
		t.Errorf("%d sweeps, %+v", len(sweeps), surveys)
	}
	// It is looked for after 1, 3 and 7 s.
	if len(gaps) != 1 || gaps[0].Why != "receiver unplugged" || gaps[0].To.Sub(gaps[0].From) < 4*time.Second || gaps[0].To.Sub(gaps[0].From) > 9*time.Second {
		t.Errorf("gaps %v", gaps)
	}
}

// started runs a command and gives its lines of standard error; wait ends it.
func started(t *testing.T, cmd *exec.Cmd) (lines <-chan string, wait func() error) {
	t.Helper()
	pipe, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill() }) // does nothing once it is gone
	out := make(chan string, 1000)
	go func() {
		defer close(out)
		for s := bufio.NewScanner(pipe); s.Scan(); {
			out <- s.Text()
		}
	}()
	return out, cmd.Wait
}

var storedLine = regexp.MustCompile(`^stored sweep (\d+) `)

// Without any dongle: one line that says what to do.
func TestNoDongle(t *testing.T) {
	b := newBench(t, map[string]float64{"whip": 0, "loop": 0}, nil, "devices 0")
	b.findsNone(t)
}

// The real librtlsdr, where no dongle is plugged in.
func TestRealLibraryWithoutDongle(t *testing.T) {
	b := newBench(t, map[string]float64{"whip": 0, "loop": 0}, nil)
	b.env = append(b.env, "LD_LIBRARY_PATH=", "DYLD_LIBRARY_PATH=", byStandIn+"=") // the stand-in is not found any more
	switch said, err := b.command("receivers").CombinedOutput(); {
	case err == nil:
		t.Skipf("a dongle is plugged in: %s", said)
	case strings.Contains(string(said), "librtlsdr was not found"):
		if os.Getenv("CI") == "true" {
			t.Fatal("librtlsdr is not here, and in CI it has to be")
		}
		t.Skip("librtlsdr is not here; ./check installs it")
	}
	b.findsNone(t)
}

// Where nothing can be recorded no database is left. Another one that records into it is named
// rather than the dongle that it has.
func TestNoDatabaseWithoutReceiver(t *testing.T) {
	b := newBench(t, map[string]float64{"whip": 0, "loop": 0}, func(p string) string { return p + "\n[[gain]]\ngain = \"99 dB\"\n" }, "devices 0")
	folder := filepath.Join(b.folder, "data")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	b.database = filepath.Join(folder, "night.db")
	record := []string{"record", "--plan", b.plan, "--db", b.database}
	for _, args := range [][]string{
		record,
		append(record, "--receiver", "file:"+filepath.Join(folder, "none.cu8")),
		append(record, "--receiver", "scene:house"), // no such gain
		append(record, "--receiver", "scene:house", "--until", "99:99"),
		{"calibrate", "noise", "--yes", "--plan", b.plan, "--db", b.database},
	} {
		said, err := b.command(args...).CombinedOutput()
		left, readErr := os.ReadDir(folder)
		if err == nil || readErr != nil || len(left) != 0 {
			t.Errorf("%v: %v, left %v: %s", args, err, left, said)
		}
	}
	db, err := store.Open(t.Context(), b.database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	release, err := db.LockWriter(time.Now())
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	b.set(t, "devices", "1")
	b.set(t, "busy", "1")
	cmd := b.command(record...)
	said, err := cmd.CombinedOutput()
	faultRow(t, "another record writes the database", telling(string(said)), holds(t, b.database), cmd.ProcessState.ExitCode())
	if err == nil || !strings.Contains(string(said), "lock database") {
		t.Errorf("%v: %s", err, said)
	}
}

// findsNone wants one line and status 1 of whatever needs a dongle.
func (b *bench) findsNone(t *testing.T) {
	t.Helper()
	for _, args := range [][]string{{"record", "--plan", b.plan, "--db", b.database}, {"receivers"}} {
		said, err := b.command(args...).CombinedOutput()
		var status *exec.ExitError
		if !errors.As(err, &status) || status.ExitCode() != 1 {
			t.Errorf("%v: %v", args, err)
		}
		text := string(said)
		faultRow(t, "no dongle is there: "+args[0], telling(text), left(t, b.database), status.ExitCode())
		if strings.Count(text, "\n") != 1 || !strings.HasPrefix(text, "nightfloor: ") || !strings.Contains(text, ": no dongle found") || strings.Contains(text, "unplugged") {
			t.Errorf("%v: %q", args, text)
		}
		for _, way := range []string{"out and in again", "--receiver file:PATH", "--receiver scene:house"} {
			if !strings.Contains(text, way) {
				t.Errorf("%v: %q names no other way: %s", args, text, way)
			}
		}
	}
}

// smallDisk gives a disk of 2 MiB.
func smallDisk(t *testing.T) string {
	t.Helper()
	disk := t.TempDir()
	if said, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", disk).CombinedOutput(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("mount: %v %s", err, said)
		}
		t.Skipf("a disk of 2 MiB cannot be mounted here: %v %s", err, said)
	}
	t.Cleanup(func() { exec.Command("umount", "-l", disk).Run() })
	return disk
}

// On a disk of 2 MiB the daemon lives, says once that it is full, and goes on once
// there is room; what was stored stays.
func TestDiskOfTwoMebibytes(t *testing.T) {
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, func(p string) string {
		return strings.NewReplacer("rounds = 6\n", "", `dwell = "200ms"`, `dwell = "40ms"`).Replace(p)
	})
	disk := smallDisk(t)
	b.database = filepath.Join(disk, "night.db")
	ballast := filepath.Join(disk, "ballast")
	cmd := b.command("record", "--verbose", "--plan", b.plan, "--db", b.database)
	lines, wait := started(t, cmd)
	var said []string
	stored := map[string]bool{}
	full, again := false, 0
	limit := time.After(2 * time.Minute)
	for open := true; open; {
		select {
		case line, ok := <-lines:
			if open = ok; !ok {
				break
			}
			said = append(said, line)
			if m := storedLine.FindStringSubmatch(line); m != nil {
				stored[m[1]] = true
				if len(stored) == 2 { // something else fills the disk, to the last byte
					_ = os.WriteFile(ballast, make([]byte, 2<<20), 0o644)
				}
				if full {
					if again++; again == 3 {
						cmd.Process.Signal(os.Interrupt)
					}
				}
			}
			if strings.Contains(line, "fault began: store") && !full {
				full = true
				// It goes on for a while without room; then there is some.
				time.AfterFunc(200*time.Millisecond, func() { os.Remove(ballast) })
			}
		case <-limit:
			t.Fatalf("nothing more happened:\n%s", strings.Join(said, "\n"))
		}
	}
	err := wait()
	text := strings.Join(said, "\n")
	if err != nil || !full || strings.Count(text, "fault began: store") != 1 || strings.Count(text, "fault cleared: store") != 1 {
		t.Errorf("%v\n%s", err, text)
	}
	// The disk may be full again by now: read from a copy.
	copied := filepath.Join(b.folder, "copy.db")
	copyDatabase(t, b.database, copied)
	b.database = copied
	sweeps, _, gaps := b.sweeps(t)
	faultRow(t, "the disk (a tmpfs of 2 MiB) is full for a while, and SIGINT", telling(text), holds(t, b.database), cmd.ProcessState.ExitCode())
	for _, s := range sweeps {
		delete(stored, fmt.Sprint(s.ID))
	}
	if len(stored) != 0 || len(gaps) != 1 || !strings.Contains(gaps[0].Why, "not stored") {
		t.Errorf("reported stored and gone: %v; gaps %v", stored, gaps)
	}
}

// The unit file is one that systemd takes.
func TestUnitFile(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("systemd-analyze is not here; ./check installs it")
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	// The program need not be installed for the file to be right.
	folder := t.TempDir()
	text, err := os.ReadFile("system/nightfloor.service")
	if err != nil {
		t.Fatal(err)
	}
	unit := filepath.Join(folder, "nightfloor.service")
	here := strings.ReplaceAll(string(text), "/usr/local/bin/nightfloor", os.Args[0])
	if err := os.WriteFile(unit, []byte(here), 0o644); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.CommandContext(ctx, tool, "verify", unit).CombinedOutput(); err != nil || len(bytes.TrimSpace(said)) > 0 {
		t.Errorf("%v: %s", err, said)
	}
}
