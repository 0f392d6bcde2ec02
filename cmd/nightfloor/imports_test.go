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

// order is what each room may import of ours. Within a room a package imports only those that
// stand after it in packageOrder.
var order = []room{
	{"cmd", []string{"capture", "reports", "store", "survey", "dsp"}},
	{"capture", []string{"survey", "dsp"}},
	{"reports", []string{"survey", "dsp"}},
	{"store", []string{"survey"}},
	{"survey", nil},
	{"dsp", nil},
}

// packageOrder names the packages of each room from the door to the ground.
var packageOrder = []string{
	"cmd/nightfloor", "cmd/nightfloor/calibrating", "cmd/nightfloor/planning", "cmd/nightfloor/database",
	"cmd/nightfloor/live", "cmd/nightfloor/trials", "cmd/nightfloor/open", "cmd/nightfloor/console", "cmd/nightfloor/output",

	"capture/instrument", "capture/scene", "capture/calibrate", "capture/turn", "capture/rtlsdr", "capture/iqfile", "capture/iqfile/wav",
	"capture/pluglog", "capture", "capture/drive", "capture/droop", "capture/force",

	"store", "store/salvage", "store/rename", "store/handle", "store/trouble", "store/schema", "store/files", "store/lock",
	"store/density", "store/tally", "store/ranges", "store/checksum",

	"reports/page", "reports/calibration", "reports/text", "reports/verdict", "reports/simulated", "reports",
	"reports/rank", "reports/bearings", "reports/stations", "reports/rises", "reports/noise",
	"reports/noise/judge", "reports/noise/source", "reports/noise/presence", "reports/noise/track", "reports/floor",
	"reports/waterfall", "reports/quality", "reports/strength", "reports/onair", "reports/readlog", "reports/matrix",
	"reports/strata", "reports/halves", "reports/input", "reports/isolation", "reports/result", "reports/doubt",
	"reports/wording", "reports/series", "reports/pair", "reports/stats",

	"survey/logbook", "survey/plan", "survey/sun", "survey/ambient", "survey/level", "survey/passband", "survey",

	"dsp", "dsp/comb", "dsp/interference", "dsp/envelope", "dsp/transient", "dsp/lines",
	"dsp/floor", "dsp/baseline", "dsp/spectrum", "dsp/codes", "dsp/fft", "dsp/stat",
}

// testHelpers are for tests: only tests import them, and packages like them.
var testHelpers = []string{
	"dsp/dsptest", "capture/capturetest", "capture/rtlsdr/rtlsdrtest", "capture/turn/turntest",
	"reports/reporttest", "reports/rank/ranktest", "reports/golden",
}

// TestImports holds every import of ours to the order, for all systems that files are
// chosen by. With -v it prints the order.
func TestImports(t *testing.T) {
	for _, o := range order {
		may := strings.Join(o.may, ", ")
		if may == "" {
			may = "no other room"
		}
		t.Logf("%-8s may import %s", o.folder, may)
	}
	t.Logf("within a room only rightwards: %s", strings.Join(packageOrder, " > "))
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
		for _, p := range slices.Concat(packageOrder, testHelpers) {
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
	above, below := slices.Index(packageOrder, from), slices.Index(packageOrder, to)
	switch {
	case i < 0:
		return "no room of the order has it"
	case slices.Contains(testHelpers, to) && !slices.Contains(testHelpers, from):
		return "it is for tests only"
	case roomOf(from) != roomOf(to) && !slices.Contains(order[i].may, roomOf(to)):
		return roomOf(from) + " must not import " + roomOf(to)
	case slices.Contains(testHelpers, from):
		return ""
	case above < 0 || below < 0:
		return "packageOrder does not name both"
	case roomOf(from) == roomOf(to) && below <= above:
		return "it stands above"
	}
	return ""
}
