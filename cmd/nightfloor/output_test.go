package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"nightfloor/store"
	"nightfloor/survey"
)

// filesIn gives the files of a folder by name, links and pipes by what they are.
func filesIn(t *testing.T, folder string) map[string]string {
	t.Helper()
	found, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	for _, f := range found {
		all[f.Name()] = f.Type().String()
		if f.Type().IsRegular() {
			text, err := os.ReadFile(filepath.Join(folder, f.Name()))
			if err != nil {
				t.Fatal(err)
			}
			all[f.Name()] = string(text)
		}
	}
	return all
}

// A page replaces a page, and nothing else that is there.
func TestReportHTMLDestroysNothing(t *testing.T) {
	notInShort(t)
	database := overlapping(t)
	folder := filepath.Dir(database)
	for name, text := range map[string]string{"notes.html": "<p>mine", "empty.html": "", "night.cu8": "\x7f\x80\x7f\x80", "two.db-journal": "SQLite's"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for name, target := range map[string]string{"link.html": "notes.html", "device.html": "/dev/null", "link.db": "two.db"} {
		if err := os.Symlink(target, filepath.Join(folder, name)); err != nil {
			t.Skip("no symbolic links here: ", err)
		}
	}
	if err := os.Link(database, filepath.Join(folder, "other-name.db")); err != nil {
		t.Fatal(err)
	}
	before := filesIn(t, folder)
	for _, test := range []struct {
		name, want string
		forced     bool // refused with --force, too
	}{
		{"two.db", "the database", true},
		{"two.db-wal", "the database", true},
		{"two.db-shm", "the database", true},
		{"two.db-journal", "the database", true},
		{"two.db.lock", "the database", true},
		{"other-name.db", "the database", true},
		{"link.db", "the database", true},
		{"link.html", "a link", true},
		{"device.html", "a link", true},
		{"", "a folder", true},
		{os.DevNull, "a device", true},
		{"../" + filepath.Base(folder) + "/two.db", "the database", true},
		{"none/page.html", "no such", true},
		{"notes.html", "--force", false},
		{"empty.html", "--force", false},
		{"night.cu8", "--force", false},
	} {
		for _, force := range []bool{false, true} {
			if force && !test.forced {
				continue
			}
			args := []string{"report", "--db", database, "--html", folder + "/" + test.name}
			if filepath.IsAbs(test.name) {
				args[4] = test.name
			}
			if force {
				args = append(args, "--force")
			}
			status, _, errOut := command(t, args...)
			if status != 1 || !strings.Contains(errOut, test.want) || strings.Count(errOut, "\n") != 1 {
				t.Errorf("%s, forced %v: status %d, %q; want 1 and one line with %q", test.name, force, status, errOut, test.want)
			}
			if after := filesIn(t, folder); !sameFiles(before, after) {
				t.Fatalf("%s, forced %v: another folder now", test.name, force)
			}
			if !force {
				faultRow(t, "report --html onto "+cmp.Or(test.name, "a folder"), telling(errOut), keptFiles(before, filesIn(t, folder)), status)
			}
		}
	}
	page := filepath.Join(folder, "notes.html")
	for _, args := range [][]string{{"--force"}, nil} { // then it is a page, and needs no force
		if status, _, errOut := command(t, append([]string{"report", "--db", database, "--html", page}, args...)...); status != 0 {
			t.Errorf("%v: status %d, %s", args, status, errOut)
		}
	}
	if text, err := os.ReadFile(page); err != nil || !bytes.Contains(text, []byte("<!DOCTYPE html>")) {
		t.Errorf("no page: %v", err)
	}
}

func sameFiles(a, b map[string]string) bool {
	for name := range a {
		if a[name] != b[name] {
			return false
		}
	}
	return len(a) == len(b)
}

// The demo refuses, before its night begins, a folder in which it would destroy anything but a
// demo.
func TestDemoDestroysNothing(t *testing.T) {
	notInShort(t)
	t.Parallel()
	demos := survey.Survey{Kind: survey.KindRecord, Simulated: true, Plan: string(demoPlan), Start: demoStart}
	mine, real := demos, demos
	mine.Plan, real.Simulated = "title = \"mine\"\n", false
	calibration := survey.Calibration{Kind: survey.CalibrateLines, Receiver: "a dongle", At: demoStart}
	for name, test := range map[string]struct {
		make func(folder, database string) error
		want string
	}{
		"a real survey":      {fill(real), "not simulated"},
		"a simulated survey": {fill(mine), "other plans than the demo's"},
		"beside the demo's":  {fill(demos, mine), "other plans than the demo's"},
		"a calibration":      {fill(demos, calibration), "calibration"},
		"an event":           {fill(demos, survey.Event{Survey: 1, At: demoStart, Text: "lamp off"}), "event"},
		"another program's":  {put("nightfloor.db", "mine"), "nightfloor.db"},
		"a page of mine": {func(folder, database string) error {
			return errors.Join(fill(demos)(folder, database), put("report.html", "<p>mine")(folder, ""))
		}, "--force"},
		"a link":                   {link(t, demos), "link"},
		"a write-ahead log alone":  {put("nightfloor.db-wal", "a log"), "nightfloor.db-wal"},
		"a journal, and nothing":   {put("nightfloor.db-journal", "a log"), "nightfloor.db-journal"},
		"a folder as the page":     {func(folder, _ string) error { return os.Mkdir(filepath.Join(folder, "report.html"), 0o755) }, "a folder"},
		"a database being written": {keepLocked(t, demos), "another record"},
	} {
		folder := t.TempDir()
		database := filepath.Join(folder, "nightfloor.db")
		if err := test.make(folder, database); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		before := filesIn(t, folder)
		status, out, errOut := command(t, "demo", "--out", folder)
		if status != 1 || out != "" || !strings.Contains(errOut, test.want) {
			t.Errorf("%s: status %d, %q; want 1 and %q", name, status, errOut, test.want)
		}
		after := filesIn(t, folder)
		for _, all := range []map[string]string{before, after} {
			delete(all, "nightfloor.db-shm") // shared memory of those who read
			if all["nightfloor.db-wal"] == "" {
				delete(all, "nightfloor.db-wal")
			}
		}
		if !sameFiles(before, after) {
			t.Errorf("%s: was %v, is %v", name, slices.Sorted(maps.Keys(before)), slices.Sorted(maps.Keys(after)))
		}
	}
	folder := t.TempDir()
	database := filepath.Join(folder, "nightfloor.db")
	if err := errors.Join(fill(demos)(folder, database), put("notes.txt", "mine")(folder, "")); err != nil {
		t.Fatal(err)
	}
	if err := clearDemo(t.Context(), database); err != nil {
		t.Errorf("an earlier demo: %v", err)
	}
	if _, err := os.Stat(database); err == nil || filesIn(t, folder)["notes.txt"] != "mine" {
		t.Errorf("the folder holds %v", filesIn(t, folder))
	}
}

// fill stores surveys, events and calibrations into the database of a folder.
func fill(rows ...any) func(folder, database string) error {
	return func(_, database string) error {
		ctx := context.Background()
		db, err := store.Open(ctx, database)
		if err != nil {
			return err
		}
		for _, row := range rows {
			switch x := row.(type) {
			case survey.Survey:
				_, err = db.BeginSurvey(ctx, x)
			case survey.Event:
				err = db.AddEvent(ctx, x)
			case survey.Calibration:
				err = db.AddCalibration(ctx, &x)
			}
			if err != nil {
				break
			}
		}
		return errors.Join(err, db.Close())
	}
}

// put writes a file into a folder.
func put(name, text string) func(folder, database string) error {
	return func(folder, _ string) error { return os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644) }
}

// link puts the demo's database elsewhere, and a link in its place.
func link(t *testing.T, rows ...any) func(folder, database string) error {
	return func(_, database string) error {
		elsewhere := filepath.Join(t.TempDir(), "elsewhere.db")
		return errors.Join(fill(rows...)("", elsewhere), os.Symlink(elsewhere, database))
	}
}

// keepLocked leaves the database as one that somebody is writing.
func keepLocked(t *testing.T, rows ...any) func(folder, database string) error {
	return func(_, database string) error {
		if err := fill(rows...)("", database); err != nil {
			return err
		}
		db, err := store.Open(t.Context(), database)
		if err != nil {
			return err
		}
		release, err := db.LockWriter(demoStart)
		t.Cleanup(func() { errors.Join(release(), db.Close()) })
		return err
	}
}

// A dash, by which others mean standard output, names no file here.
func TestDashIsNoFile(t *testing.T) {
	t.Chdir(t.TempDir())
	nights(t, "night.db", "", "20261103")
	if err := os.WriteFile("plan.toml", []byte(smallPlan), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"report", "--html", "-", "--db", "night.db"}, {"plan", "new", "-"}, {"plan", "new", "-", "--force"}, {"database", "backup", "-", "--db", "night.db"}, {"demo", "--out", "-"},
		{"report", "rank", "--db", "-"}, {"record", "--plan", "plan.toml", "--db", "-"}} {
		status, _, errOut := command(t, args...)
		if status == 0 || !strings.Contains(errOut, "- is no file name here; name a f") || !errorLine.MatchString(errOut) {
			t.Errorf("%q: status %d, %s", args, status, errOut)
		}
		if _, err := os.Lstat("-"); err == nil {
			t.Errorf("%q: it is there", args)
		}
	}
}
