package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
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

// wide gives the lines of a text that are longer than 80 characters.
func wide(text string) (lines []string) {
	for line := range strings.Lines(text) {
		if utf8.RuneCountInString(strings.TrimRight(line, "\n")) > 80 {
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

// What each command prints with 80 columns, held to testdata/columns-80. The texts of licences stay as
// they were given; tables with more in them have golden files in reports/text.
func TestEightyColumns(t *testing.T) {
	t.Setenv("COLUMNS", "80")
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
	of := []string{"whip.cu8", "--center", "9.65MHz", "--rate", "256kHz"}
	texts := map[string]string{"help.txt": helps(t, newRootCommand(console.New(nil, nil, nil)))}
	for name, args := range map[string][]string{
		"measure.txt":        append([]string{"measure"}, of...),
		"import.txt":         append([]string{"import", "--antenna", "whip", "--start", "2026-11-03T21:04:10Z", "--db", "import.db"}, of...),
		"report.txt":         {"report", "--db", "night.db"},
		"rank.txt":           {"report", "rank", "--db", "night.db"},
		"floor.txt":          {"report", "floor", "--db", "night.db"},
		"bearings.txt":       {"report", "bearings", "--db", "night.db"},
		"noise-sources.txt":  {"report", "noise-sources", "--db", "night.db"},
		"quality.txt":        {"report", "quality", "--db", "night.db"},
		"calibrate-list.txt": {"calibrate", "list", "--db", "night.db"},
		"database-check.txt": {"database", "check", "--db", "night.db"},
	} {
		status, out, errOut := command(t, args...)
		if status != 0 {
			t.Fatalf("%v: status %d, %s", args, status, errOut)
		}
		texts[name] = out
	}
	var plan bytes.Buffer
	if err := os.WriteFile("plan.toml", newPlan, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := runPlanCheck("plan.toml", time.Date(2026, 11, 3, 21, 0, 0, 0, time.UTC), console.New(nil, &plan, &plan)); err != nil {
		t.Fatal(err)
	}
	texts["plan-check.txt"], texts["licences.txt"] = plan.String(), aboutLicences
	for name, text := range texts {
		holdTo(t, filepath.Join(kept, name), text)
	}
}
