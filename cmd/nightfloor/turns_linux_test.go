package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"nightfloor/capture/turn/turntest"
	"nightfloor/store"
	"nightfloor/survey"
)

// byHand is a plan for the simulated house whose antennas a person changes.
const byHand = `
[receiver]
uri = "scene:house"
sample_rate = "1.6 MHz"
[change]
by = "person"
remind = "1s"
patience = "10s"
[turns]
dwell = "100ms"
sweeps = 1
rounds = 2
seed = 2
[[antenna]]
name = "loop"
kind = "loop"
[[setup]]
antenna = "whip"
placement = "study"
[[setup]]
antenna = "loop"
placement = "study"
bearings = [70]
[[segment]]
band = "31 m"
`

// kept reads the visits and sweeps of a database.
func kept(t *testing.T, database string) (visits []survey.Visit, sweeps []*survey.Sweep) {
	t.Helper()
	db, err := store.OpenReadOnly(t.Context(), database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if visits, err = db.Visits(t.Context(), 0); err != nil {
		t.Fatal(err)
	}
	err = db.Sweeps(t.Context(), store.Filter{}, func(s *survey.Sweep) error {
		sweeps = append(sweeps, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return visits, sweeps
}

// recordByHand starts record with a terminal at which a person changes antennas.
func recordByHand(t *testing.T, env ...string) (p *turntest.PTY, cmd *exec.Cmd, database string) {
	t.Helper()
	return recordPlanByHand(t, byHand, env...)
}

// recordPlanByHand is recordByHand of another plan.
func recordPlanByHand(t *testing.T, text string, env ...string) (p *turntest.PTY, cmd *exec.Cmd, database string) {
	t.Helper()
	folder := t.TempDir()
	plan := filepath.Join(folder, "plan.toml")
	database = filepath.Join(folder, "night.db")
	if err := os.WriteFile(plan, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	p = turntest.OpenPTY(t)
	cmd = exec.Command(os.Args[0], "record", "--plan", plan, "--db", database)
	cmd.Env = append(append(os.Environ(), asProgram+"=1"), env...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = p.Terminal, p.Terminal, p.Terminal
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return p, cmd, database
}

// A person at a terminal is asked, reminded, and not waited for for ever; what is
// stored is what was confirmed.
func TestRecordByHand(t *testing.T) {
	t.Parallel() // it waits, mostly
	p, cmd, database := recordByHand(t)
	for range 3 { // whatever the order, all but the last of four
		p.Await(t, "Enter.\n")
		p.Await(t, "? for cautions.)")
		p.Types(t, "\n")
	}
	p.Await(t, "Enter.\n")
	p.Await(t, "Still waiting for")
	waiting := p.Await(t, "Going on with")
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	faultRow(t, "the person does not answer", "Still waiting for"+waiting+"Going on with"+p.Rest(), holds(t, database), cmd.ProcessState.ExitCode())
	visits, sweeps := kept(t, database)
	if len(visits) != 4 {
		t.Fatalf("%d visits", len(visits))
	}
	for i, v := range visits {
		confirmed := i < 3
		if (v.Reached == v.Asked) != confirmed || v.Reached == (survey.Setup{}) || strings.Contains(v.Said, "nobody answered") == confirmed {
			t.Errorf("%+v", v)
		}
	}
	// The one that was not answered is a visit to what was there.
	if visits[3].Reached != visits[2].Reached {
		t.Errorf("%v was asked for, %v confirmed before, and %v stored", visits[3].Asked, visits[2].Reached, visits[3].Reached)
	}
	for _, s := range sweeps {
		if s.Setup != visits[s.Visit-1].Reached {
			t.Errorf("sweep %d bears %v in visit %+v", s.ID, s.Setup, visits[s.Visit-1])
		}
	}
}

// A visit that a person leaves out is followed by nothing but the next question, and one who stops
// before the first sweep has not failed.
func TestRecordStoppedBeforeTheFirstSweep(t *testing.T) {
	t.Parallel() // it waits, mostly
	p, cmd, _ := recordByHand(t, "TERM=dumb")
	p.Await(t, "? for cautions.)")
	p.Types(t, "s\n")
	p.Await(t, "This visit is left out.\n")
	if said := p.Await(t, "and press Enter.\n"); strings.Contains(said, "fault") || strings.Contains(said, "warning") {
		t.Errorf("%q breaks in", said)
	}
	p.Types(t, "\x03") // Ctrl-C
	p.Await(t, "0 sweeps stored: stopped by the operator before the first sweep was whole")
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
}

// Without a terminal nobody can be asked, and that is said before anything is stored.
func TestRecordByHandWithoutATerminal(t *testing.T) {
	plan := filepath.Join(t.TempDir(), "plan.toml")
	if err := os.WriteFile(plan, []byte(byHand), 0o644); err != nil {
		t.Fatal(err)
	}
	status, _, errOut := command(t, "record", "--plan", plan, "--db", filepath.Join(t.TempDir(), "night.db"))
	if status != 1 || !strings.Contains(errOut, "there is no terminal to ask at") {
		t.Errorf("status %d, %s", status, errOut)
	}
}

// rotctld starts the rotator daemon with its dummy on a port.
func rotctld(t *testing.T, port string) *exec.Cmd {
	t.Helper()
	path, err := exec.LookPath("rotctld")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("no rotctld; ./check installs it")
		}
		t.Skip("no rotctld here; ./check installs it (Debian: libhamlib-utils)")
	}
	cmd := exec.Command(path, "-m", "1", "-T", "127.0.0.1", "-t", port)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd
}

func stop(t *testing.T, cmd *exec.Cmd) {
	t.Helper()
	if err := cmd.Process.Kill(); err != nil {
		t.Error(err)
	}
	cmd.Wait() // killed: that is its error
}

// A rotator turns the simulated house's loop. The daemon is killed in mid-survey:
// visits in which nobody knows where the loop points are left out and marked, and
// with the daemon back the survey goes on.
func TestRecordWithARotator(t *testing.T) {
	notInShort(t)
	t.Parallel() // it waits, mostly
	folder, port := t.TempDir(), "45331"
	text, err := os.ReadFile("testdata/rotator.toml")
	if err != nil {
		t.Fatal(err)
	}
	plan, database := filepath.Join(folder, "plan.toml"), filepath.Join(folder, "night.db")
	// Small turns: the dummy makes 6° a second.
	edited := strings.NewReplacer("127.0.0.1:4533", "127.0.0.1:"+port, "sweeps = 40", "sweeps = 2\nrounds = 4",
		"[0, 30, 60, 90, 120, 150]", "[0, 4]", "tolerance = 2", "tolerance = 1").Replace(string(text))
	if err := os.WriteFile(plan, []byte(edited), 0o644); err != nil {
		t.Fatal(err)
	}
	daemon := rotctld(t, port)
	defer func() { stop(t, daemon) }()
	cmd := exec.Command(os.Args[0], "record", "--verbose", "--plan", plan, "--db", database)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	lines, wait := started(t, cmd)
	stored, killed := 0, false
	var said []string
	for line := range lines {
		said = append(said, line)
		switch {
		case strings.HasPrefix(line, "stored sweep"):
			if stored++; stored == 7 { // in round 2, or in the next on a busy machine
				stop(t, daemon)
				killed = true
			}
		case killed && strings.Contains(line, "fault began: antenna"):
			killed = false
			daemon = rotctld(t, port)
		}
	}
	if err := wait(); err != nil {
		t.Fatal(err)
	}
	faultRow(t, "the rotator's daemon dies, and is started again", telling(strings.Join(said, "\n")), holds(t, database), cmd.ProcessState.ExitCode())
	visits, sweeps := kept(t, database)
	for _, s := range sweeps {
		if s.Setup != visits[s.Visit-1].Reached {
			t.Errorf("sweep %d bears %v in visit %+v", s.ID, s.Setup, visits[s.Visit-1])
		}
	}
	missed, rounds := 0, map[int]map[survey.Setup]bool{}
	for _, v := range visits {
		if v.Reached == (survey.Setup{}) {
			if missed++; !strings.Contains(v.Said, port) {
				t.Errorf("%+v does not name the daemon", v)
			}
			continue
		}
		if rounds[v.Round] == nil {
			rounds[v.Round] = map[survey.Setup]bool{}
		}
		rounds[v.Round][v.Reached] = true
		if turned := v.Asked.Antenna == "loop"; v.Reached != v.Asked || v.Bearing.Known != turned {
			t.Errorf("%+v", v)
		}
		if off := v.Bearing.From(v.Asked.Bearing); v.Bearing.Known && (off > 1 || off < -1) {
			t.Errorf("%+v: %v° off", v, off)
		}
	}
	if missed == 0 || missed > 3 || len(rounds[1]) != 3 || len(rounds[4]) != 3 {
		t.Errorf("%d visits missed, setups by round %v", missed, rounds)
	}
}

// A relay command that hangs, fails or lies costs its visits, and no sweep bears a
// setup that was not confirmed.
func TestRelayThatMisbehaves(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ relay, confirm, said, reached string }{
		"hangs": {"[ $1 = loop ] && exec sleep 3600; exit 0", "", "did not end within 2s", ""},
		"fails": {"[ $1 = loop ] && echo relay 2 does not answer && exit 5; exit 0", "", `exit status 5 (it said "relay 2 does not answer")`, ""},
		"lies":  {"exit 0", "echo whip", `says that "whip" is in place`, "whip@study"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // it waits, mostly
			folder := t.TempDir()
			script := func(name, text string) string {
				path := filepath.Join(folder, name)
				writeProgram(t, path, "#!/bin/sh\n"+text+"\n")
				return path
			}
			by := `by = "command"` + "\ncommand = [\"" + script("relay", c.relay) + `"]` + "\ntime_out = \"2s\""
			if c.confirm != "" {
				by += "\nconfirm = [\"" + script("confirm", c.confirm) + `"]`
			}
			text := strings.NewReplacer(`by = "person"`, by, "remind = \"1s\"\n", "", "patience = \"10s\"\n", "").Replace(byHand)
			plan, database := filepath.Join(folder, "plan.toml"), filepath.Join(folder, "night.db")
			if err := os.WriteFile(plan, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			status, _, errOut := command(t, "record", "--plan", plan, "--db", database)
			if status != 0 {
				t.Fatalf("status %d, %s", status, errOut)
			}
			faultRow(t, "the relay's program "+name, telling(errOut), holds(t, database), status)
			visits, sweeps := kept(t, database)
			if len(visits) != 4 {
				t.Fatalf("%d visits", len(visits))
			}
			for _, v := range visits {
				reached := v.Reached.String()
				if v.Reached == (survey.Setup{}) {
					reached = ""
				}
				if v.Asked.Antenna == "loop" && (reached != c.reached || !strings.Contains(v.Said, c.said)) || v.Asked.Antenna == "whip" && v.Reached != v.Asked {
					t.Errorf("%+v", v)
				}
			}
			for _, s := range sweeps {
				if s.Setup.Antenna != "whip" {
					t.Errorf("sweep %d bears %v", s.ID, s.Setup)
				}
			}
		})
	}
}
