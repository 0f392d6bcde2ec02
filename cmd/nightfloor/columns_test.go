package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/dsp/dsptest"
	"nightfloor/reports/golden"
	"nightfloor/survey"
)

// wide gives the lines of a text that are longer than 80 characters, but for notes, which are one
// line each.
func wide(text string) (lines []string) {
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, "nightfloor: ") && utf8.RuneCountInString(strings.TrimRight(line, "\n")) > 80 {
			lines = append(lines, line)
		}
	}
	return lines
}

// holdTo wants a text as a file of testdata/columns-80 has it, and no line too long.
func holdTo(t *testing.T, path, text string) {
	t.Helper()
	if lines := wide(text); len(lines) > 0 {
		t.Errorf("%s: %d lines are too long:\n%s", path, len(lines), strings.Join(lines, ""))
	}
	if *update {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if line, g, w := golden.Difference(text, string(want)); line > 0 {
		t.Errorf("%s:%d\n got %q\nwant %q", path, line, g, w)
	}
}

// helps gives the help of a command and of all below it.
func helps(t *testing.T, cmd *cobra.Command) string {
	t.Helper()
	words := append(strings.Fields(cmd.CommandPath())[1:], "--help")
	status, out, errOut := command(t, words...)
	if status != 0 || errOut != "" {
		t.Fatalf("%v: status %d, %s", words, status, errOut)
	}
	text := fmt.Sprintf("$ %s --help\n%s\n", cmd.CommandPath(), out)
	for _, below := range cmd.Commands() {
		text += helps(t, below)
	}
	return text
}

// recorded writes half a second with a carrier 30 dB over the noise in a folder.
func recorded(t *testing.T, path string) {
	t.Helper()
	const rate, noise = 256e3, 1e-10
	s := dsptest.New(3, rate, 9.65e6)
	s.Noise(noise)
	s.Tone(9.66e6, 10*math.Log10(noise*9000)+30, 0)
	if err := os.WriteFile(path, dsptest.U8(nil, s.Samples(rate/2)), 0o644); err != nil {
		t.Fatal(err)
	}
}

// atColumns readies a folder with a night, a recording and a plan in it, and a terminal of that width;
// kept is the folder of golden files.
func atColumns(t *testing.T, columns string) (kept string) {
	t.Helper()
	t.Setenv("COLUMNS", columns)
	zone := time.Local
	time.Local = time.UTC
	t.Cleanup(func() { time.Local = zone })
	database := overlapping(t)
	kept, err := filepath.Abs(filepath.Join("testdata", "columns-80"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	if err := os.Rename(database, "night.db"); err != nil {
		t.Fatal(err)
	}
	calibration := survey.Calibration{Kind: survey.CalibrateLines, Receiver: "Realtek RTL2838UHIDIR, tuner R820T, serial 00000001, direct sampling by the Q branch", At: demoStart,
		Note: "lines that are there with a terminator of 50 Ω in place of the antenna, at 6 gains"}
	if err := fill(calibration)("", "night.db"); err != nil {
		t.Fatal(err)
	}
	recorded(t, "whip.cu8")
	for name, text := range map[string]string{"small.toml": smallPlan, "plug.csv": "time,power\n2026-11-03T19:10:00Z,0\n2026-11-03T19:20:00Z,900\n2026-11-03T19:40:00Z,0\n"} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return kept
}

// smallPlan is done in no time in the simulated house.
const smallPlan = "[receiver]\nuri = \"scene:house?seed=1\"\nsample_rate = \"1.6 MHz\"\n[turns]\ndwell = \"100ms\"\nsweeps = 1\nrounds = 1\n[[setup]]\nantenna = \"whip\"\nplacement = \"study\"\n[[segment]]\nband = \"31 m\"\n"

// printed gives what a command prints on both streams, without the log, which tells the time.
func printed(t *testing.T, args ...string) string {
	t.Helper()
	status, out, errOut := command(t, args...)
	if status != 0 {
		t.Fatalf("%v: status %d, %s", args, status, errOut)
	}
	for line := range strings.Lines(errOut) {
		if !strings.HasPrefix(line, "time=") {
			out += line
		}
	}
	return out
}

// columnsOf lists a command for each file of testdata/columns-80, in an order in which they can be given.
var columnsOf = []struct {
	file string
	args []string
}{
	{"measure", []string{"measure", "whip.cu8", "--center", "9.65MHz", "--rate", "256kHz"}},
	{"import", []string{"import", "whip.cu8", "--center", "9.65MHz", "--rate", "256kHz", "--antenna", "whip", "--start", "2026-11-03T21:04:10Z", "--db", "import.db"}},
	{"report", []string{"report", "--db", "night.db"}},
	{"rank", []string{"report", "rank", "--db", "night.db"}},
	{"floor", []string{"report", "floor", "--db", "night.db"}},
	{"bearings", []string{"report", "bearings", "--db", "night.db"}},
	{"noise-sources", []string{"report", "noise-sources", "--db", "night.db"}},
	{"quality", []string{"report", "quality", "--db", "night.db"}},
	{"report-html", []string{"report", "--html", "night.html", "--db", "night.db"}},
	{"plan-new", []string{"plan", "new", "new.toml"}},
	{"plan-check", []string{"plan", "check", "new.toml"}},
	{"plan-check-small", []string{"plan", "check", "small.toml"}},
	{"record", []string{"record", "--plan", "small.toml", "--db", "record.db"}},
	{"record-try", []string{"record", "--try", "--plan", "small.toml"}},
	{"calibrate-list", []string{"calibrate", "list", "--db", "night.db"}},
	{"database-check", []string{"database", "check", "--db", "night.db"}},
	{"database-backup", []string{"database", "backup", "copy.db", "--db", "night.db"}},
	{"note", []string{"note", "dishwasher on", "--at", "2026-11-03T19:30:00Z", "--db", "night.db"}},
	{"note-switching", []string{"note", "--switching", "plug.csv", "--device", "washing machine in the cellar", "--db", "night.db"}},
	{"database-rename-setup", []string{"database", "rename-setup", "whip", "frame@north end of the attic:110", "--db", "import.db"}},
	{"database-remove-survey", []string{"database", "remove-survey", "1", "--yes", "--db", "import.db"}},
	{"calibrate-remove", []string{"calibrate", "remove", "1", "--yes", "--db", "night.db"}},
}

// What each command prints with 80 columns, held to testdata/columns-80. The texts of licences stay as
// they were given; tables with more in them have golden files in reports/text.
func TestEightyColumns(t *testing.T) {
	notInShort(t)
	kept := atColumns(t, "80")
	texts := map[string]string{"help": helps(t, newRootCommand(console.New(nil, nil, nil))), "licences": aboutLicences}
	for _, c := range columnsOf {
		texts[c.file] = printed(t, c.args...)
	}
	for name, text := range texts {
		holdTo(t, filepath.Join(kept, name+".txt"), text)
	}
}

// elsewhere are the commands whose output with 80 columns is held by other tests.
var elsewhere = map[string]string{
	"demo":                "a night takes half a minute; reports/text has the summary and what was built in",
	"receivers":           "TestReceivers, with the stand-in's dongle",
	"licences":            "texts as they were given",
	"calibrate noise":     "reports/calibration",
	"calibrate level":     "reports/calibration",
	"calibrate linearity": "reports/calibration",
	"calibrate lines":     "reports/calibration",
	"calibrate clock":     "reports/calibration",
}

// No command is without.
func TestEveryCommandHasColumns(t *testing.T) {
	var look func(cmd *cobra.Command)
	look = func(cmd *cobra.Command) {
		for _, below := range cmd.Commands() {
			look(below)
		}
		path := strings.TrimPrefix(cmd.CommandPath(), "nightfloor ")
		has := func(args []string) bool { return strings.HasPrefix(strings.Join(args, " ")+" ", path+" ") }
		if cmd.HasSubCommands() || elsewhere[path] != "" || slices.ContainsFunc(columnsOf, func(c struct {
			file string
			args []string
		}) bool {
			return has(c.args)
		}) {
			return
		}
		t.Errorf("%s: nothing holds what it prints with 80 columns", path)
	}
	look(newRootCommand(console.New(nil, nil, nil)))
}

// 120 columns show all there is.
func TestAllColumns(t *testing.T) {
	notInShort(t)
	atColumns(t, "120")
	for table, headings := range map[string]string{
		"":      "setup advantage 95 % interval Δ signal Δ floor first rounds carriers",
		"rank":  "setup advantage 95 % interval Δ signal Δ floor first rounds carriers",
		"floor": "setup hour from readings 10 % 50 % 90 % gain, dB",
	} {
		said := printed(t, append([]string{"report", "--db", "night.db"}, strings.Fields(table)...)...)
		if !strings.Contains(strings.Join(strings.Fields(said), " "), headings) || strings.Contains(said, "Left out, since") {
			t.Errorf("report %s does not show %s:\n%s", table, headings, said)
		}
	}
	narrow := strings.Join(strings.Fields(printedAt(t, "80", "report", "rank", "--db", "night.db")), " ")
	if strings.Contains(narrow, "rounds carriers") || !strings.Contains(narrow, "Left out, since") {
		t.Errorf("80 columns show as much:\n%s", narrow)
	}
}

func printedAt(t *testing.T, columns string, args ...string) string {
	t.Helper()
	t.Setenv("COLUMNS", columns)
	return printed(t, args...)
}
