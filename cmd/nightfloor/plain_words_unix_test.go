//go:build unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is wrong with a file is said once and in plain words, not in those of systems and libraries.
func TestPlainWordsOfFiles(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("plan.toml", []byte(smallPlan), 0o600); err != nil {
		t.Fatal(err)
	}
	switching := strings.Replace(smallPlan, "[turns]", "[change]\nby = \"command\"\ncommand = [\""+filepath.Join(t.TempDir(), "none")+"\"]\n[turns]", 1)
	if err := os.WriteFile("switching.toml", []byte(switching), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir("folder", 0o700); err != nil {
		t.Fatal(err)
	}
	nights(t, "night.db", "", "20261103")
	for line, want := range map[string]string{
		"plan check none.toml":                                    "read plan none.toml: no such file or folder; name",
		"plan check plan.toml/x":                                  "read plan plan.toml/x: a file stands where the path has a folder; name",
		"plan new none/x.toml":                                    "write plan none/x.toml: none: no such file or folder; name a file in a folder that is there",
		"report --db none.db":                                     "open database none.db: there is no such file; record or import makes it",
		"record --plan plan.toml --db none/x.db":                  "the file or its folder cannot be opened; check that the folder is there",
		"record --plan plan.toml --receiver file:none --db x.db":  "no such file",
		"demo --out plan.toml/demo":                               "demo: make folder plan.toml/demo: a file stands where the path has a folder; name",
		"note --switching folder --device washer --db night.db":   "note --switching folder: it is a folder; name a log that can be read",
		"note --switching none.csv --device washer --db night.db": "note --switching none.csv: no such file or folder; name a log that can be read",
		"record --plan switching.toml --db y.db":                  "none: no such file or folder; run it by hand to see why",
	} {
		status, _, said := command(t, strings.Fields(line)...)
		lines := strings.Split(strings.TrimSpace(said), "\n")
		last := lines[len(lines)-1]
		if status != 1 || !strings.Contains(last, want) {
			t.Errorf("%s: status %d, %q, want %q", line, status, last, want)
		}
		for _, raw := range []string{"stat ", "fork", "mkdir", "(14)", "is a directory", "yet"} {
			if strings.Contains(last, raw) {
				t.Errorf("%s: %q says %q", line, last, raw)
			}
		}
	}
}
