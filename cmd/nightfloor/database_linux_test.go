package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"nightfloor/capture/turn/turntest"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/store"
	"nightfloor/survey"
)

// At a terminal somebody is asked before a survey is removed, and yes alone removes it.
func TestRemoveSurveyAsks(t *testing.T) {
	database := twoNights(t)
	for _, test := range []struct {
		typed  string
		status int
		left   int
	}{{"no\n", 1, 3}, {"\n", 1, 3}, {"y\n", 1, 3}, {"yes\n", 0, 2}} {
		p := turntest.OpenPTY(t)
		p.Types(t, test.typed)
		var out strings.Builder
		status := run(t.Context(), console.New(p.Terminal, &out, p.Terminal), []string{"database", "remove-survey", "first night", "--db", database})
		p.Await(t, `survey 2 "first night" (imports, 3 Nov 2026`)
		if n := len(storedSurveys(t, database)); status != test.status || n != test.left {
			t.Errorf("%q typed: status %d, %d surveys, want %d and %d: %s", test.typed, status, n, test.status, test.left, out.String())
		}
	}
}

// Likewise before setups become one, and before calibrations are removed.
func TestAsksBeforeWhatCannotBeUndone(t *testing.T) {
	notInShort(t)
	for _, test := range []struct {
		args  []string
		asked string
	}{
		{[]string{"database", "rename-setup", "whip", "loop"}, "they become one"},
		{[]string{"calibrate", "remove", "1"}, "removed for good"},
	} {
		for typed, status := range map[string]int{"n\n": 1, "yes\n": 0} {
			database := twoNights(t)
			db, err := store.Open(t.Context(), database)
			if err == nil {
				err = db.AddCalibration(t.Context(), &survey.Calibration{Kind: survey.CalibrateClock, At: time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC), Receiver: "a dongle"})
			}
			if err != nil {
				t.Fatal(err)
			}
			db.Close()
			p := turntest.OpenPTY(t)
			p.Types(t, typed)
			got := run(t.Context(), console.New(p.Terminal, io.Discard, p.Terminal), append(test.args, "--db", database))
			p.Await(t, test.asked)
			if got != status {
				t.Errorf("%q, %q typed: status %d", test.args, typed, got)
			}
		}
	}
}

// A copy that can only be read is checked, in a folder that can only be read too, and nothing is
// written beside it.
func TestCheckOfAReadOnlyCopy(t *testing.T) {
	database := twoNights(t)
	folder := t.TempDir()
	program := filepath.Join(folder, "nightfloor")
	shelf := filepath.Join(folder, "shelf")
	copied := filepath.Join(shelf, "night.db")
	if err := os.Mkdir(shelf, 0o755); err != nil {
		t.Fatal(err)
	}
	copyFile(t, database, copied)
	copyFile(t, os.Args[0], program)
	for path, mode := range map[string]os.FileMode{program: 0o755, copied: 0o444, shelf: 0o555, folder: 0o755, filepath.Dir(folder): 0o755} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() { os.Chmod(shelf, 0o755) })
	check := exec.Command(program, "database", "check", "--db", copied)
	check.Env = append(os.Environ(), asProgram+"=1")
	if os.Getuid() == 0 { // whom no permission stops
		check.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	said, err := check.CombinedOutput()
	if os.IsPermission(err) {
		t.Skipf("nobody can start a program below %s: %v", folder, err)
	}
	if err != nil || string(said) != copied+" is whole\n" {
		t.Errorf("%v: %s", err, said)
	}
	if left, err := os.ReadDir(shelf); err != nil || len(left) != 1 {
		t.Errorf("%v: left beside it: %v", err, left)
	}
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	in, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, in); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
}
