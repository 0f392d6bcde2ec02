package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A sample rate or a gain that cannot be read makes no mistake that speaks of one nobody wrote.
func TestPlanCheckOfUnreadValues(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plan.toml")
	for _, uri := range []string{"scene:house?seed=1", "rtlsdr:"} {
		plan := "[receiver]\nuri = \"" + uri + "\"\nsample_rate = \"1,6 MHz\"\nfront_end = \"direct sampling Q\"\n[[gain]]\ngain = \"much\"\n" +
			"[[setup]]\nantenna = \"whip\"\nplacement = \"study\"\n[[segment]]\nlow = \"9 MHz\"\nhigh = \"10.5 MHz\"\n"
		if err := os.WriteFile(path, []byte(plan), 0o644); err != nil {
			t.Fatal(err)
		}
		status, _, errOut := command(t, "plan", "check", path)
		if status != 1 || strings.Count(errOut, "\n") != 2 || !strings.Contains(errOut, "line 3: receiver.sample_rate: sample rate \"1,6 MHz\": not a number; write 1.6 with a point\n") || !strings.Contains(errOut, "line 6: gain 1, gain: ") {
			t.Errorf("%s: status %d, %s", uri, status, errOut)
		}
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
	for _, want := range []string{"! 4 rounds: under 6", "! a visit listens for 2.2 s only", "22 m: direct sampling hears 28.8 MHz − f at f", "a low-pass of 14.4 MHz", "a high-pass of 14.4 MHz", "! no locator", "! it does not say how antennas are changed", "! the bias tee is on"} {
		if !strings.Contains(strings.Join(strings.Fields(out), " "), want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

// Bearings out of the rotator's reach are a mistake of the plan, with its line.
func TestPlanOutOfTheRotatorsReach(t *testing.T) {
	plan := filepath.Join(t.TempDir(), "plan.toml")
	text := "[rotator]\naddress = \"127.0.0.1:4533\"\nantennas = [\"loop\"]\nrange = [0, 100]\n[[setup]]\nantenna = \"loop\"\nplacement = \"loft\"\nbearings = [10, 150]\n[[segment]]\nlow = \"9.4 MHz\"\nhigh = \"9.6 MHz\"\n"
	if err := os.WriteFile(plan, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	status, _, errOut := command(t, "plan", "check", plan)
	if status != 1 || !strings.Contains(errOut, "line 4: rotator.range: loop@loft:150: out of the rotator's reach") || strings.Contains(errOut, "loop@loft:10:") {
		t.Errorf("status %d, %s", status, errOut)
	}
}

// A plan is a file of a plan's size: what is none is refused in one line, and nothing waits for a
// pipe that nobody writes into.
func TestPlanIsAFile(t *testing.T) {
	folder := t.TempDir()
	large, binary := filepath.Join(folder, "large.toml"), filepath.Join(folder, "binary.toml")
	if err := errors.Join(os.WriteFile(large, bytes.Repeat([]byte("# more\n"), 1<<20), 0o600), os.WriteFile(binary, bytes.Repeat([]byte{0, 255, 27, 'x', '\n'}, 10_000), 0o600)); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{folder: "a folder, not a file", os.DevNull: "a device, not a file", large: "more than 1 MB", binary: "holds bytes that no text has"} {
		for _, args := range [][]string{{"plan", "check", path}, {"record", "--plan", path, "--db", filepath.Join(folder, "x.db")}} {
			status, out, errOut := command(t, args...)
			faultRow(t, args[0]+" with a plan that is "+map[string]string{folder: "a folder", os.DevNull: "a device", large: "7 MB large", binary: "binary"}[path], telling(errOut), left(t, filepath.Join(folder, "x.db")), status)
			if status != 1 || out != "" || !strings.Contains(errOut, want) || strings.Count(errOut, "\n") != 1 || len(errOut) > 600 {
				t.Errorf("%v: status %d, no %q in %.600q", args, status, want, errOut)
			}
		}
	}
}
