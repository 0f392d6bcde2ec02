package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// A room is a folder at the module's root.
type room struct {
	folder string
	may    []string // rooms that it may import
}

// order is what each room may import of ours. Within dsp a package imports only those after it in
// dspOrder.
var order = []room{
	{"cmd", []string{"cmd", "capture", "reports", "store", "survey", "dsp"}},
	{"capture", []string{"capture", "survey", "dsp"}},
	{"reports", []string{"reports", "survey", "dsp"}},
	{"store", []string{"store", "survey"}},
	{"survey", []string{"survey"}},
	{"dsp", []string{"dsp"}},
}

// dspOrder names the packages of dsp from the door to the ground.
var dspOrder = []string{
	"dsp", "dsp/comb", "dsp/interference", "dsp/envelope", "dsp/transient", "dsp/lines",
	"dsp/floor", "dsp/spectrum", "dsp/fft", "dsp/stat",
}

// testHelpers make signals for tests: only tests import them, and packages like them.
var testHelpers = []string{"dsp/dsptest", "capture/capturetest"}

// TestImports holds every import of ours to the order, for all systems that files are
// chosen by. With -v it prints the order.
func TestImports(t *testing.T) {
	for _, o := range order {
		t.Logf("%-8s may import %s", o.folder, strings.Join(o.may, ", "))
	}
	t.Logf("within dsp only downwards: %s", strings.Join(dspOrder, " > "))
	for _, system := range []string{"linux", "darwin", "windows"} {
		out, err := goList(system, `{{.ImportPath}}{{range .Imports}} {{.}}{{end}}`)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		for _, line := range strings.Split(strings.TrimSpace(out), "\n") {
			words := strings.Fields(line)
			from := strings.TrimPrefix(words[0], "nightfloor/")
			seen[from] = true
			for _, path := range words[1:] {
				to, ours := strings.CutPrefix(path, "nightfloor/")
				if !ours {
					continue
				}
				if why := mistake(from, to); why != "" {
					t.Errorf("%s: %s imports %s: %s", system, from, to, why)
				}
			}
		}
		for _, p := range slices.Concat(dspOrder, testHelpers) {
			if !seen[p] {
				t.Errorf("%s: there is no package %s, which the order names", system, p)
			}
		}
	}
}

// goList tells of all packages of the module what a template says, as for another system.
func goList(system, template string) (string, error) {
	c := exec.Command("go", "list", "-f", template, "nightfloor/...")
	c.Env = append(c.Environ(), "GOOS="+system, "CGO_ENABLED=0")
	out, err := c.Output()
	return string(out), err
}

// mistake says what is wrong with an import, "" where it is right.
func mistake(from, to string) string {
	roomOf := func(path string) string { return strings.SplitN(path, "/", 2)[0] }
	i := slices.IndexFunc(order, func(r room) bool { return r.folder == roomOf(from) })
	switch {
	case i < 0:
		return "no room of the order has it"
	case slices.Contains(testHelpers, to) && !slices.Contains(testHelpers, from):
		return "it is for tests only"
	case !slices.Contains(order[i].may, roomOf(to)):
		return roomOf(from) + " may import only " + strings.Join(order[i].may, ", ")
	case roomOf(from) != "dsp" || roomOf(to) != "dsp" || slices.Contains(testHelpers, from):
		return ""
	}
	above, below := slices.Index(dspOrder, from), slices.Index(dspOrder, to)
	if above < 0 || below < 0 {
		return "dspOrder does not name both"
	}
	if below <= above {
		return "it stands above in dsp"
	}
	return ""
}
