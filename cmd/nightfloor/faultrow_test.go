package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

// faultRow prints a row of the table of faults: what happened, what the program printed, what
// the data hold afterwards, and the exit status, all of them as they were. With
// go test ./... -v | grep 'fault |' all rows come together.
func faultRow(t *testing.T, fault, said, holds string, status int) {
	t.Helper()
	cell := strings.NewReplacer("|", "/", "\r", "", "\n", " ")
	t.Logf("fault | %s | %s | %s | %d", cell.Replace(fault), cell.Replace(said), cell.Replace(holds), status)
}

var (
	logPrefix = regexp.MustCompile(`^time=\S+ level=(WARN|ERROR) msg=`)
	folders   = regexp.MustCompile(`/[^ "]*/Test[^/ "]*/[0-9]+`)
	usual     = regexp.MustCompile(`^nightfloor: (recording \d|caution: |--|\d+ sweeps stored|survey \d+ )`)
)

// telling gives what a program said on standard error beside what it says on a night like any
// other, without times and the folders of tests.
func telling(said string) string {
	var all []string
	for line := range strings.Lines(said) {
		line = strings.TrimSuffix(line, "\n")
		if short := logPrefix.ReplaceAllString(line, ""); short != line || strings.HasPrefix(line, "nightfloor: ") && !usual.MatchString(line) {
			all = append(all, folders.ReplaceAllString(short, ""))
		}
	}
	return strings.Join(all, " // ")
}

// left says what is left at a database's path.
func left(t *testing.T, database string) string {
	t.Helper()
	if _, err := os.Stat(database); err != nil {
		return "no database is made"
	}
	return holds(t, database)
}

// keptFiles says whether a folder's files are as they were.
func keptFiles(before, after map[string]string) string {
	if !sameFiles(before, after) {
		return "files are changed"
	}
	return "all files are as they were"
}

// holds says what a database holds, which must be whole, and what is marked in it.
func holds(t *testing.T, database string) string {
	t.Helper()
	b := bench{database: database}
	sweeps, surveys, gaps := b.sweeps(t)
	flags, readings := map[string]int{}, 0
	for _, s := range sweeps {
		for _, r := range s.Readings {
			readings++
			for _, flag := range r.Quality.Flags {
				flags[flag]++
			}
		}
	}
	said := []string{fmt.Sprintf("%d sweeps, whole", len(sweeps))}
	for _, flag := range slices.Sorted(maps.Keys(flags)) {
		said = append(said, fmt.Sprintf("%d of %d readings %s", flags[flag], readings, flag))
	}
	said = append(said, gapsOf(gaps)...)
	said = append(said, unreached(t, database)...)
	for _, s := range surveys {
		if s.Ending != "all rounds done" {
			said = append(said, fmt.Sprintf("survey %d ends %q", s.ID, s.Ending))
		}
	}
	return strings.Join(said, "; ")
}

// gapsOf says what the gaps are, those of one reason together.
func gapsOf(gaps []survey.Gap) (said []string) {
	long := map[string][]time.Duration{}
	for _, g := range gaps {
		why := folders.ReplaceAllString(g.Why, "")
		long[why] = append(long[why], g.To.Sub(g.From).Round(100*time.Millisecond))
	}
	for _, why := range slices.Sorted(maps.Keys(long)) {
		took := long[why]
		what := fmt.Sprintf("gap of %v", took[0])
		if len(took) > 1 {
			what = fmt.Sprintf("%d gaps of %v to %v", len(took), slices.Min(took), slices.Max(took))
		}
		said = append(said, what+": "+why)
	}
	return said
}

// unreached tells of visits that did not reach what was asked for.
func unreached(t *testing.T, database string) (said []string) {
	t.Helper()
	db, err := store.OpenReadOnly(t.Context(), database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	visits, err := db.Visits(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	times := map[string]int{}
	for _, v := range visits {
		switch {
		case v.Reached == (survey.Setup{}):
			times["left out: "+v.Said]++
		case v.Reached != v.Asked:
			times[fmt.Sprintf("of %v instead of %v: %s", v.Reached, v.Asked, v.Said)]++
		}
	}
	for _, what := range slices.Sorted(maps.Keys(times)) {
		said = append(said, fmt.Sprintf("%d of %d visits %s", times[what], len(visits), folders.ReplaceAllString(what, "")))
	}
	return said
}

// rescued gives the databases that were saved beside one.
func rescued(t *testing.T, database string) []string {
	t.Helper()
	found, err := filepath.Glob(strings.TrimSuffix(database, ".db") + "-rescued-*.db")
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// copyDatabase copies a database and its logs as they lie there.
func copyDatabase(t *testing.T, from, to string) {
	t.Helper()
	for _, suffix := range []string{"", "-wal", "-journal"} {
		content, err := os.ReadFile(from + suffix)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err = cmp.Or(err, os.WriteFile(to+suffix, content, 0o644)); err != nil {
			t.Fatal(err)
		}
	}
}
