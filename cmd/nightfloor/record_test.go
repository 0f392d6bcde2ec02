package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/scene"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// The beginning says on which day it ends, and how long that is.
func TestRecordSaysWhenItEnds(t *testing.T) {
	zone := time.Local
	time.Local = time.FixedZone("CET", 3600)
	defer func() { time.Local = zone }()
	evening := time.Date(2026, time.November, 25, 21, 0, 0, 0, time.Local)
	until, err := recordOptions{until: "06:30"}.end(evening)
	if err != nil {
		t.Fatal(err)
	}
	for rounds, want := range map[int]string{0: "segments until Thu 26 Nov 06:30 CET, in 9.5 h; into x.db", 12: "segments for 12 rounds, or until Thu 26 Nov 06:30 CET, in 9.5 h; into x.db"} {
		var said bytes.Buffer
		announce(console.New(nil, nil, &said), plan.Plan{Rounds: rounds}, evening, until, "x.db")
		if !strings.Contains(said.String(), want) {
			t.Errorf("%q, want %q", said.String(), want)
		}
	}
}

// A laterClock is a clock that stands.
type laterClock struct {
	capture.WallClock
	at time.Time
}

func (c laterClock) Now() time.Time { return c.at }

// A survey is taken up where it was, and not with another receiver; one that is
// complete is not.
func TestRecordTakesUp(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("testdata/two-setups.toml") // 2 setups, 2 sweeps a visit, 6 rounds
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plan.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	house, err := scene.Open("scene:house?seed=1", scene.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer house.Close()
	begun := time.Date(2026, time.November, 3, 20, 0, 0, 0, time.UTC)
	for _, test := range []struct {
		name     string
		made     []int // sweeps in each round through each setup
		ending   string
		receiver string
		round    int // that it goes on at, 0: it does not
		says     string
		real     bool
	}{
		{"in the middle of a round", []int{2, 2, 1}, "", "", 3, "goes on with survey 1 at round 3 of 6", false},
		{"between two rounds", []int{2, 2}, "stopped by the operator", "", 3, "goes on with survey 1 at round 3 of 6", false},
		{"before its first sweep", nil, "", "", 1, "goes on with survey 1 at round 1 of 6", false},
		{"complete", []int{2}, capture.EndDone, "", 0, "survey 1 of this plan is complete; beginning another", false},
		{"begun with another", []int{2}, "", "another dongle", 0, "go on with survey 1: it was begun with another dongle, and simulated", true},
		{"begun in another house", []int{2}, "", "another house", 0, "begun with another simulated house; beginning another", false},
	} {
		t.Run(test.name, func(t *testing.T) {
			ctx := t.Context()
			db, err := store.Open(ctx, filepath.Join(t.TempDir(), "night.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			receiver := test.receiver
			if receiver == "" {
				receiver = capture.Describe(house.Info(), plan.FrontEnd)
			}
			id, err := db.BeginSurvey(ctx, survey.Survey{Kind: survey.KindRecord, Simulated: !test.real, Plan: plan.Text, First: plan.Setups[0], Receiver: receiver, Start: begun})
			if err != nil {
				t.Fatal(err)
			}
			visit := 0
			for round, n := range test.made {
				for _, setup := range plan.Setups {
					visit++
					if err := db.AddVisit(ctx, survey.Visit{Survey: id, Number: visit, Round: round + 1, Asked: setup, Reached: setup, Start: begun}); err != nil {
						t.Fatal(err)
					}
					for range n {
						if err := db.AddSweep(ctx, &survey.Sweep{Survey: id, Round: round + 1, Visit: visit, Setup: setup, Start: begun}); err != nil {
							t.Fatal(err)
						}
					}
				}
			}
			if test.ending != "" {
				if err := db.EndSurvey(ctx, id, begun, test.ending); err != nil {
					t.Fatal(err)
				}
			}
			r := &capture.Recorder{Plan: plan, Receiver: claims{house, !test.real}, Clock: laterClock{at: begun.Add(time.Hour)}}
			p, said, err := r.Unfinished(ctx, db)
			if err != nil {
				said += err.Error()
			}
			if (p != nil) != (test.round > 0) || (err != nil) != test.real || !strings.Contains(said, test.says) {
				t.Errorf("%v, %v, %q; want %q", p, err, said, test.says)
			}
			if err != nil && (!strings.Contains(err.Error(), "--receiver") || !strings.Contains(err.Error(), "--new")) {
				t.Errorf("no advice: %v", err)
			}
		})
	}
}

// claims is a receiver that says whether it is simulated.
type claims struct {
	capture.Receiver
	simulated bool
}

func (c claims) Info() capture.Info {
	info := c.Receiver.Info()
	info.Simulated = c.simulated
	return info
}

// A gain that is no step of the receiver is refused before anything is measured.
func TestRecordRefusesGains(t *testing.T) {
	notInShort(t)
	t.Parallel()
	text, err := os.ReadFile("testdata/two-setups.toml")
	if err != nil {
		t.Fatal(err)
	}
	for gain, wrong := range map[string]bool{"99 dB": true, "20 dB": true, "20.7 dB": false, "20.75 dB": false, "20.8 dB": true} {
		path := filepath.Join(t.TempDir(), "plan.toml")
		if err := os.WriteFile(path, append(text, "\n[[gain]]\ngain = \""+gain+"\"\n"...), 0o644); err != nil {
			t.Fatal(err)
		}
		status, _, errOut := command(t, "record", "--plan", path, "--receiver", "scene:house", "--db", filepath.Join(t.TempDir(), "night.db"), "--for", "1s")
		if refused := strings.Contains(errOut, "gain 1, gain: ") && strings.Contains(errOut, "is no step of the receiver; its steps are 0.0, 0.9, "); refused != wrong || (status == 1) != wrong {
			t.Errorf("%s: status %d: %s", gain, status, errOut)
		}
	}
}

// A second interrupt ends it at once, and says so in plain words. By the host's time
// the sweep in hand takes more than a minute.
func TestRecordStoppedAtOnce(t *testing.T) {
	t.Parallel()
	b := newBench(t, map[string]float64{"whip": 0, "loop": 0}, func(p string) string {
		for _, band := range []string{"90 m", "75 m", "60 m", "41 m", "25 m"} {
			p += "\n[[segment]]\nband = \"" + band + "\"\n"
		}
		return strings.Replace(p, `dwell = "200ms"`, `dwell = "10s"`, 1)
	}, "patient 1")
	b.env = append(b.env, byStandIn+"=")
	status := filepath.Join(b.folder, "status")
	b.set(t, "status", status)
	cmd := b.command("record", "--plan", b.plan, "--db", b.database)
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill() })
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for { // interrupts, again and again, once the sweep is in hand
		select {
		case err := <-done:
			var status *exec.ExitError
			if !errors.As(err, &status) || status.ExitCode() != 1 || !strings.HasSuffix(said.String(), "nightfloor: stopped at once: the sweep in hand was not stored\n") {
				t.Errorf("%v: %s", err, said.String())
			}
			return
		case <-again.C:
			if text, err := os.ReadFile(status); err == nil && strings.Contains(string(text), "tune ") {
				cmd.Process.Signal(os.Interrupt)
			}
		}
	}
}

// What went wrong besides the interrupt is said too.
func TestAtOnce(t *testing.T) {
	full := errors.New("end survey 1: the disk is full")
	for _, test := range []struct {
		err  error
		want string
	}{
		{fmt.Errorf("read 31 m: %w", context.Canceled), "stopped at once: the sweep in hand was not stored"},
		{errors.Join(fmt.Errorf("read 31 m: %w", context.Canceled), full), "stopped at once: the sweep in hand was not stored\nend survey 1: the disk is full"},
		{full, "end survey 1: the disk is full"},
	} {
		if got := atOnce(test.err); got.Error() != test.want {
			t.Errorf("%v: %q, want %q", test.err, got, test.want)
		}
	}
}

// A survey that stored nothing says why and what to do, and has failed.
func TestRecordThatStoresNothing(t *testing.T) {
	t.Parallel()
	file := strings.Replace(noiseIn(t, t.TempDir(), "noise.sigmf-data"), "-data", "-meta", 1) // 12.5 ms
	const about = `{"global": {"core:datatype": "cu8", "core:sample_rate": 1600000, "core:version": "1.0.0"}, "annotations": [],
		"captures": [{"core:sample_start": 0, "core:frequency": 9650000, "core:datetime": "2026-11-03T21:00:10Z"}]}`
	if err := os.WriteFile(file, []byte(about), 0o644); err != nil {
		t.Fatal(err)
	}
	plan := filepath.Join(t.TempDir(), "plan.toml")
	if err := os.WriteFile(plan, []byte(smallPlan), 0o644); err != nil {
		t.Fatal(err)
	}
	for receiver, test := range map[string]struct{ length, want string }{
		"file:" + file: {"1h", "record: 0 sweeps stored: the recording that was played has ended before a sweep was whole; take a longer one"},
		"scene:house":  {"1ns", "record: 0 sweeps stored: the time was up; give it longer"},
	} {
		status, _, said := command(t, "record", "--plan", plan, "--receiver", receiver, "--for", test.length, "--db", filepath.Join(t.TempDir(), "n.db"))
		lines := strings.SplitAfter(strings.TrimSpace(said), "\n")
		if last := lines[len(lines)-1]; status != 1 || !strings.Contains(last, test.want) || !errorLine.MatchString(last+"\n") {
			t.Errorf("%s: status %d, %s", receiver, status, said)
		}
	}
}
