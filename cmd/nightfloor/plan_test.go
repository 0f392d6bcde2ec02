package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// What plan new writes passes plan check, and is not written over.
func TestNewPlanIsRight(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	if status, _, errOut := command(t, "plan", "new", path); status != 0 || !strings.Contains(errOut, "plan check") {
		t.Fatalf("status %d: %s", status, errOut)
	}
	var said bytes.Buffer
	evening := time.Date(2026, time.November, 3, 21, 0, 0, 0, time.Local)
	if err := runPlanCheck(path, evening, &console{out: &said, err: &said}); err != nil {
		t.Fatal(err)
	}
	out := said.String()
	// 4 segments of which none shares a tuning: 2.2 s a sweep, 12 of them and 1 s a visit.
	for _, want := range []string{"2 setups, 4 segments in 4 tunings, readings of 500ms", "a sweep takes 2.2 s, a visit 27.4 s, a round 54.8 s", "624 rounds in 9.5 h", "1.0 h of listening", " MB", "±1 dB takes"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	status, _, errOut := command(t, "plan", "new", path)
	if text, err := os.ReadFile(path); status != 1 || !strings.Contains(errOut, "left as it is") || err != nil || string(text) != "mine" {
		t.Errorf("status %d: %s, %v", status, errOut, err)
	}
}

// Every mistake is named at once, each with its line.
func TestPlanCheckNamesAllMistakes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	plan := `[receiver]
uri = "rtlsdr:"
front_end = "direct"
gain = 3
[turns]
dwell = "5"
rounds = 0
[[setup]]
antenna = "whip"
[[segment]]
band = "33 m"
`
	if err := os.WriteFile(path, []byte(plan), 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := command(t, "plan", "check", path)
	if status != 1 || out != "" {
		t.Errorf("status %d, %s", status, out)
	}
	for _, want := range []string{"line 3: receiver.front_end", "line 4: unknown key receiver.gain", "line 6: turns.dwell", "line 7: turns.rounds", "line 8: setup 1", "line 11: segment 1, band"} {
		if !strings.Contains(errOut, want) {
			t.Errorf("no %q in\n%s", want, errOut)
		}
	}
}

// What is no mistake and yet no good plan is said.
func TestPlanDoubts(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	plan := `[receiver]
uri = "rtlsdr:"
front_end = "direct sampling I"
bias_tee = true
[turns]
sweeps = 2
rounds = 4
[[setup]]
antenna = "whip"
placement = "study"
[[setup]]
antenna = "loop"
placement = "study"
[[segment]]
band = "22 m"
[[segment]]
band = "19 m"
`
	if err := os.WriteFile(path, []byte(plan), 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := command(t, "plan", "check", path)
	if status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	for _, want := range []string{"! 4 rounds: under 6", "! a visit listens for 2.2 s only", "22 m: direct sampling hears its mirror", "a low-pass of 14.4 MHz", "a high-pass of 14.4 MHz", "! no locator", "! it does not say how antennas are changed", "! the bias tee is on"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}
