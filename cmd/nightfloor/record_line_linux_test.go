package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
	"unicode/utf8"

	"nightfloor/capture/turn/turntest"
	"nightfloor/cmd/nightfloor/console"
)

// At a terminal record shows one line, which fits its width, comes back below what is said, and is
// gone at the end.
func TestRecordShowsALine(t *testing.T) {
	zone := time.Local
	time.Local = time.UTC
	t.Cleanup(func() { time.Local = zone })
	text, err := os.ReadFile("testdata/two-setups.toml")
	if err != nil {
		t.Fatal(err)
	}
	plan := filepath.Join(t.TempDir(), "plan.toml")
	short := strings.NewReplacer("[change]", "", `by = "command"`, "", `command = ["true"] `, "", `dwell = "200ms"`, `dwell = "50ms"`, "rounds = 6", "rounds = 2", `"2.4 MHz"`, `"1.6 MHz"`).Replace(string(text))
	if err := os.WriteFile(plan, []byte(short), 0o644); err != nil {
		t.Fatal(err)
	}
	for columns, wants := range map[int][]string{
		80: {"simulated: round 2 of 2  changing to whip@study  ends ≈ 17:30 UTC", "simulated: round 2 of 2  loop@study:40  49 m −"},
		40: {"simulated: round 1 of 2  whip@study", "simulated: round 2 of 2  loop@st…y:40"},
	} {
		p := turntest.OpenPTY(t)
		p.Columns(t, columns)
		c := console.New(nil, p.Terminal, p.Terminal)
		c.Verbose = true
		status := make(chan int, 1)
		database := filepath.Join(t.TempDir(), "n.db")
		go func() {
			status <- run(t.Context(), c, []string{"record", "--verbose", "--plan", plan, "--receiver", "scene:house?seed=1", "--db", database, "--for", "10m"})
		}()
		const last = "8 sweeps stored; for the report: nightfloor report --db "
		printed := p.Await(t, last)
		if got := <-status; got != 0 {
			t.Fatalf("status %d: %s", got, printed)
		}
		drawn := strings.FieldsFunc(printed, func(r rune) bool { return r == '\r' || r == '\n' })
		drawn = slices.DeleteFunc(drawn, func(line string) bool { return !strings.HasPrefix(line, "simulated: round ") })
		for _, line := range drawn {
			if utf8.RuneCountInString(line) > columns-3 {
				t.Errorf("%d columns: %q is too long", columns, line)
			}
		}
		for _, want := range wants {
			if !slices.ContainsFunc(drawn, func(line string) bool { return strings.HasPrefix(line, want) }) {
				t.Errorf("%d columns: no %q in %q", columns, want, drawn)
			}
		}
		for _, line := range turntest.Screen(printed, 1000) {
			if line != "" && !strings.HasPrefix(line, "nightfloor:") && !strings.HasPrefix(line, "stored sweep ") && !strings.HasPrefix(line, "time=") {
				t.Errorf("%d columns: %q is left on the screen", columns, line)
			}
		}
	}
}

// Where there is no terminal the log has the line once an hour of the recorder's clock.
func TestRecordInAJournal(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("testdata/two-setups.toml")
	if err != nil {
		t.Fatal(err)
	}
	plan := filepath.Join(t.TempDir(), "plan.toml")
	slow := strings.NewReplacer(`dwell = "200ms"`, `dwell = "50ms"`, "sweeps = 2", "sweeps = 1\nevery = \"25m\"", `"2.4 MHz"`, `"1.6 MHz"`).Replace(string(text))
	if err := os.WriteFile(plan, []byte(slow), 0o644); err != nil {
		t.Fatal(err)
	}
	status, _, said := command(t, "record", "--plan", plan, "--receiver", "scene:house?seed=1", "--db", filepath.Join(t.TempDir(), "n.db"), "--for", "4h10m")
	lines := strings.Count(said, `msg="simulated: round `)
	if status != 0 || lines != 4 || !strings.Contains(said, ` dBFS/Hz  ends `) || strings.Contains(said, "\r") {
		t.Errorf("status %d, %d lines in 4 h 10 min:\n%s", status, lines, said)
	}
	quiet, _, said := command(t, "record", "--quiet", "--plan", plan, "--receiver", "scene:house?seed=1", "--db", filepath.Join(t.TempDir(), "n.db"), "--for", "1h10m")
	if quiet != 0 || said != "" {
		t.Errorf("status %d, and quiet it says %q", quiet, said)
	}
}

// With a dongle, whose driver's own lines are kept apart, the line is drawn as well, and a second
// interrupt leaves none of it behind.
func TestDongleShowsALine(t *testing.T) {
	t.Parallel() // it waits for a call that hangs
	b := newBench(t, map[string]float64{"whip": 0, "loop": 0}, nil, "patient 1")
	b.env = append(b.env, byStandIn+"=", "TZ=UTC") // by the host's time: the call does not come back before
	b.set(t, "status", filepath.Join(b.folder, "status"))
	p := turntest.OpenPTY(t)
	p.Columns(t, 80)
	cmd := b.command("record", "--plan", b.plan, "--db", b.database)
	cmd.Stderr = p.Terminal
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill() })
	p.Await(t, "\rround 1 of 6  changing to ")
	printed := p.Await(t, " dBFS/Hz")
	b.set(t, "hang", "tune")
	r := &runner{Cmd: cmd, bench: b}
	r.hangs(t, "tune")
	r.signal(t, syscall.SIGTERM)
	r.signal(t, syscall.SIGINT)
	printed += p.Await(t, console.ErrStoppedAtOnce.Error())
	cmd.Wait()
	lines := turntest.Screen(printed+console.ErrStoppedAtOnce.Error(), 80)
	if last := lines[len(lines)-1]; last != "nightfloor: "+console.ErrStoppedAtOnce.Error() {
		t.Errorf("the last line is %q:\n%s", last, strings.Join(lines, "\n"))
	}
}
