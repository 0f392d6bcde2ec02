package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// noiseIn writes a recording of noise, long enough to be measured, and gives its path. No two
// are alike.
func noiseIn(t *testing.T, path ...string) string {
	t.Helper()
	file := filepath.Join(path...)
	noise := make([]byte, 40_000)
	rng := rand.New(rand.NewPCG(uint64(len(file)), 1))
	for i := range noise {
		noise[i] = byte(127.5 + 9*rng.NormFloat64())
	}
	copy(noise, filepath.Base(file))
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, noise, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// measured is what a test reads of measure --json.
type measured struct {
	Recordings []struct {
		File   string
		Start  *time.Time
		Centre float64 `json:"center_hz"`
		Rate   float64 `json:"sample_rate_hz"`
	}
}

// A folder and a pattern stand for the recordings in them, whose names say what they do not, and
// what was read is said back.
func TestFoldersAndNames(t *testing.T) {
	folder := t.TempDir()
	a := noiseIn(t, folder, "2026-11-03 21.04.10Z 9.65MHz 48ksps.cu8")
	b := noiseIn(t, folder, "2026-11-03 21.05.10Z 9.65MHz 48ksps.cu8")
	noiseIn(t, folder, "notes.txt")
	for _, argument := range []string{folder, filepath.Join(folder, "*")} {
		status, out, errOut := command(t, "measure", argument, "--json")
		var got measured
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatalf("%s: %v: %s%s", argument, err, out, errOut)
		}
		if status != 0 || len(got.Recordings) != 2 || got.Recordings[0].File != a || got.Recordings[1].File != b {
			t.Fatalf("%s: status %d, %+v: %s", argument, status, got, errOut)
		}
		if r := got.Recordings[0]; r.Centre != 9.65e6 || r.Rate != 48e3 || r.Start == nil || !r.Start.Equal(time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC)) {
			t.Errorf("%+v", r)
		}
		want := fmt.Sprintf("nightfloor: read from the name of %s: centre 9.65 MHz, rate 48 kS/s, start 3 Nov 2026 21:04:10 UTC\n", a)
		if !strings.Contains(errOut, want) || !strings.Contains(errOut, "by their names: 1 file\n") {
			t.Errorf("%s says %q", argument, errOut)
		}
	}
	// What is given wins; without units in the name nothing is guessed.
	status, out, _ := command(t, "measure", a, "--json", "--center", "7.1MHz")
	var got measured
	if err := json.Unmarshal([]byte(out), &got); err != nil || status != 0 || got.Recordings[0].Centre != 7.1e6 {
		t.Errorf("status %d, %v: %s", status, err, out)
	}
	if status, _, errOut := command(t, "measure", noiseIn(t, folder, "9400-9900kHz.cu8")); status != 1 || !strings.Contains(errOut, "--center") {
		t.Errorf("a stretch is no centre: status %d, %s", status, errOut)
	}
}

// Names of many recordings are said back once, and --start wins over one.
func TestImportByNames(t *testing.T) {
	folder, database := t.TempDir(), filepath.Join(t.TempDir(), "night.db")
	for minute := range 5 {
		noiseIn(t, folder, fmt.Sprintf("9650kHz 48ksps 20261103T21%02d10Z.cu8", minute))
	}
	status, out, errOut := command(t, "import", folder, "--db", database, "--antenna", "whip", "--placement", "loft")
	if status != 0 || !strings.HasPrefix(out, "stored 5, ") || strings.Count(errOut, "read from the name") != 1 || !strings.Contains(errOut, "read from the names of 5 files, as of "+folder) {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
	one := noiseIn(t, t.TempDir(), "9650kHz 48ksps 20261103T220010Z.cu8")
	status, out, errOut = command(t, "import", one, "--db", database, "--antenna", "whip", "--placement", "loft", "--start", "2026-11-03 23:04")
	said := "nightfloor: --start 2026-11-03 23:04 is read as " + time.Date(2026, 11, 3, 23, 4, 0, 0, time.Local).Format("2 Jan 2006 15:04:05 MST") + "\n"
	if status != 0 || !strings.HasPrefix(out, "stored 1, ") || strings.Contains(errOut, "22:00:10") || !strings.Contains(errOut, said) {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
	status, out, _ = command(t, "report", "quality", "--db", database, "--format", "json")
	want := `"last": "` + time.Date(2026, 11, 3, 23, 4, 0, 0, time.Local).UTC().Format("2006-01-02T15:04")
	if status != 0 || !strings.Contains(out, `"first": "2026-11-03T21:00:10Z"`) || !strings.Contains(out, want) {
		t.Errorf("status %d, no %s in %s", status, want, out)
	}
}

// measure goes on behind a recording that cannot be measured, and tells of each at the end.
func TestMeasureOfManyWithBadOnes(t *testing.T) {
	folder := t.TempDir()
	const given = "9650kHz 48ksps "
	good, last := noiseIn(t, folder, given+"b.cu8"), noiseIn(t, folder, given+"z.cu8")
	none, short := filepath.Join(folder, "a.cu8"), filepath.Join(folder, given+"c.cu8")
	if err := os.WriteFile(short, make([]byte, 400), 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := command(t, "measure", "--quiet", "--json", none, good, short, last)
	var got measured
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatalf("%v: %s%s", err, out, errOut)
	}
	if status != 1 || len(got.Recordings) != 2 || got.Recordings[0].File != good || got.Recordings[1].File != last {
		t.Errorf("status %d, %+v", status, got)
	}
	lines := strings.SplitAfter(errOut, "\n")
	if len(lines) != 3 || !strings.HasPrefix(lines[0], "nightfloor: read "+none+": ") || !strings.HasPrefix(lines[1], "nightfloor: measure "+short+": ") ||
		!errorLine.MatchString(lines[0]) || !errorLine.MatchString(lines[1]) {
		t.Errorf("%q", errOut)
	}
	if status, out, errOut := command(t, "measure", "--json", none); status != 1 || out != "" || strings.Count(errOut, "\n") != 1 {
		t.Errorf("nothing measured: status %d, %q, %q", status, out, errOut)
	}
}

// nights imports a recording through each of two setups into a survey of the name.
func nights(t *testing.T, database, name, day string) {
	t.Helper()
	folder := t.TempDir()
	for i, setup := range []string{"whip", "loop"} {
		file := noiseIn(t, folder, fmt.Sprintf("9650kHz 48ksps %sT21%02d10Z.cu8", day, i))
		args := []string{"import", file, "--db", database, "--antenna", setup, "--placement", "loft", "--quiet"}
		if name != "" {
			args = append(args, "--survey", name)
		}
		if status, _, errOut := command(t, args...); status != 0 {
			t.Fatal(errOut)
		}
	}
}

// Where a name gives nothing for what is missing, the error says that it was looked at.
func TestWhatNamesDoNotSay(t *testing.T) {
	folder := t.TempDir()
	const given, noCentre, noStart = "9650kHz 48ksps ", "a bare sample file does not say its centre frequency", "it has no start time"
	for name, want := range map[string]string{
		"9650kHz 7100kHz.cu8":                     noCentre + ", and of two frequencies in its name none is taken; give it with --center HZ\n",
		"9650kHz 7100kHz 6MHz.cu8":                noCentre + ", and of several frequencies in its name none is taken; give",
		"loop 9650 2.cu8":                         noCentre + ", and the 9650 in its name has no unit; give",
		"9400-9900kHz.cu8":                        noCentre + ", and its name says none plainly; give",
		"loop 2 0412 IMG9650.cu8":                 noCentre + "; give",
		given + "2026-11-03 21.04 2026-11-04.cu8": noStart + ", and of two dates in its name none is taken, so its turn",
		given + "2026-11-03.cu8":                  noStart + ", and its name says no time of day plainly, so its turn",
		given + "loop.cu8":                        noStart + ", so its turn among the others is unknown; give it with --start\n",
	} {
		args := []string{"import", noiseIn(t, folder, name), "--db", filepath.Join(folder, "x.db"), "--antenna", "loop@loft"}
		if !strings.HasPrefix(name, given) {
			args = append(args, "--rate", "48kHz")
		}
		if status, _, errOut := command(t, args...); status != 1 || !strings.Contains(errOut, want) {
			t.Errorf("%s: status %d, no %q in %q", name, status, want, errOut)
		}
	}
}

// Imports of a name are a survey of their own, which reports show by it.
func TestImportsKeptApartByName(t *testing.T) {
	database := twoNights(t)
	all := storedSurveys(t, database)
	if len(all) != 3 || all[0].Name != nil || *all[1].Name != "first night" || all[1].Rounds != 1 || all[1].Sweeps != 2 || *all[2].Name != "second night" {
		t.Fatalf("%+v", all)
	}
	for _, by := range []string{"2", "first night"} {
		if one := storedSurveys(t, database, "--survey", by); len(one) != 1 || one[0].Survey != 2 {
			t.Errorf("--survey %s: %+v", by, one)
		}
	}
	if status, out, _ := command(t, "report", "quality", "--db", database); status != 0 || !strings.Contains(out, `survey 2 "first night", 3 Nov 2026`) {
		t.Errorf("status %d, %s", status, out)
	}
	html := filepath.Join(t.TempDir(), "page.html")
	if status, _, errOut := command(t, "report", "--db", database, "--html", html); status != 0 {
		t.Error(errOut)
	}
	if page, err := os.ReadFile(html); err != nil || !strings.Contains(string(page), "<h3>Survey 2 <bdi>“first night”</bdi></h3>") {
		t.Errorf("%v, or the page does not show the name", err)
	}
	for want, args := range map[string][]string{
		`no survey is called "third"; there is survey 1, survey 2 "first night" and survey 3 "second night"`: {"report", "--db", database, "--survey", "third"},
		"--survey: 3 is a number, and surveys have numbers of their own":                                     {"import", "x.cu8", "--db", database, "--survey", "3"},
	} {
		if status, _, errOut := command(t, args...); status == 0 || !strings.Contains(errOut, want) || !errorLine.MatchString(errOut) {
			t.Errorf("%v: status %d, %q", args, status, errOut)
		}
	}
}

type qualitySurvey struct {
	Survey         int64
	Name           *string
	Rounds, Sweeps int
}

// Where nothing is there to import, no database is made, and a pattern that nothing fits is told as such.
func TestImportOfNothing(t *testing.T) {
	folder := t.TempDir()
	status, out, errOut := command(t, "import", filepath.Join(folder, "night-*"), folder, "--db", filepath.Join(folder, "night.db"), "--json")
	if status != 1 || !strings.Contains(out, `"survey": null`) || !strings.Contains(errOut, "night-*: not imported: no such file") || !strings.Contains(errOut, "a folder in which no recording lies") || strings.Contains(errOut, "see it with") {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
	if left, err := os.ReadDir(folder); err != nil || len(left) > 0 {
		t.Errorf("%v, %v: something was made", left, err)
	}
}

// A name that somebody else chose steers no terminal.
func TestNamesSteerNoTerminal(t *testing.T) {
	folder := t.TempDir()
	noiseIn(t, folder, "9650kHz 48ksps \x1b[31mred\x1b[0m.cu8")
	noiseIn(t, folder, "\x1b[2J.cu8")
	for _, args := range [][]string{{"measure", folder}, {"import", folder, "--db", filepath.Join(folder, "night.db")}} {
		status, out, errOut := command(t, args...)
		if status != 1 || strings.Contains(out+errOut, "\x1b") || !strings.Contains(errOut, `\x1b[31mred`) || !strings.Contains(errOut, `\x1b[2J`) {
			t.Errorf("%v: status %d, %q, %q", args, status, out, errOut)
		}
	}
}
