package main

import (
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The licences that are printed are those of the modules that are linked, on every
// system, at their versions.
func TestLicences(t *testing.T) {
	status, out, errOut := command(t, "licences")
	if status != 0 || errOut != "" {
		t.Fatalf("status %d: %s", status, errOut)
	}
	var printed []string
	for _, m := range regexp.MustCompile(`(?m)^== (\S+ v\S+)$`).FindAllStringSubmatch(out, -1) {
		printed = append(printed, m[1])
	}
	var linked []string
	for _, system := range []string{"linux", "darwin", "windows"} {
		cmd := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}} {{.Version}}{{end}}", ".")
		cmd.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		list, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(list)) {
			if name := strings.TrimSpace(line); strings.Contains(name, " ") { // our own has no version
				linked = append(linked, name)
			}
		}
	}
	slices.Sort(linked)
	linked = slices.Compact(linked)
	if len(linked) < 10 || !slices.Equal(printed, linked) {
		t.Errorf("printed are\n%s\nlinked are\n%s\nrun go generate ./cmd/nightfloor", strings.Join(printed, "\n"), strings.Join(linked, "\n"))
	}
	for _, part := range []string{"GNU General Public\nLicense, version 2 or later", "== Go's standard library\n\n-- LICENSE\n", "-- ECHARTS-LICENSE.txt\n"} {
		if n := strings.Count(out, part); n != 1 {
			t.Errorf("%q stands there %d times, want once", part, n)
		}
	}
}
