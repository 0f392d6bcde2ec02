package main

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// What is wrong with a flag is said in plain words, and which flag was meant.
func TestWrongFlags(t *testing.T) {
	for _, test := range []struct {
		args []string
		want string
	}{
		{[]string{"measure", "--centre", "9.65MHz", "x"}, "measure: unknown flag --centre; did you mean --center?; see"},
		{[]string{"report", "--referense", "whip"}, "did you mean --reference?"},
		{[]string{"--verison"}, "nightfloor: unknown flag --verison; did you mean --version?; see nightfloor --help"},
		{[]string{"measure", "--loud", "x"}, "measure: unknown flag: --loud; see"},
		{[]string{"measure", "--region", "one", "x"}, "measure: --region one: not a whole number; see"},
		{[]string{"measure", "--region", "99999999999999999999", "x"}, "--region 99999999999999999999: the number is too large"},
		{[]string{"import", "--bearing", "north", "x"}, "--bearing north: not a number, as 12.5"},
		{[]string{"record", "--plan", "night.toml", "--for", "0"}, "--for 0s: must be above 0"},
		{[]string{"record", "--plan", "night.toml", "--for", "-5m"}, "--for -5m0s: must be above 0"},
		{[]string{"record", "--for", "long"}, "--for long: not a length of time; write it as 500ms, 90s, 5m or 1h30m; see"},
		{[]string{"record", "--for", "5"}, "--for 5: no unit; write it as"},
		{[]string{"record", "--for", "5 min"}, "record: no plan"},
		{[]string{"calibrate", "clock", "--for", "2 hours"}, "--for 2 hours: not a length of time; write it as"},
		{[]string{"measure", "--rate", "2.4Mbit", "x"}, "--rate 2.4Mbit: sample rate \"2.4Mbit\": not a number with a unit; write it as 2.4MHz or 2.4MS/s"},
		{[]string{"measure", "--rate", "2,4MHz", "x"}, "not a number; write 2.4 with a point"},
		{[]string{"import", "--gain", "20 dBm", "x"}, "--gain 20 dBm: not a number with the unit dB; write it as \"20.7 dB\""},
		{[]string{"import", "--gain", "20,7", "x"}, "--gain 20,7: not a number; write 20.7 with a point"},
		{[]string{"import", "--gain", "nan", "x"}, "--gain nan: not a number with the unit dB"},
		{[]string{"measure", "--json=perhaps", "x"}, "--json perhaps: not true or false"},
		{[]string{"demo", "--seed", "-1"}, "--seed -1: not a whole number of 0 or more"},
		{[]string{"measure", "--center", "-9.65MHz", "x"}, "--center -9.65MHz: must be above 0"},
		{[]string{"measure", "--segment", "30cm", "x"}, "neither LOW-HIGH in kHz, as 9400-9900, nor a band"},
		{[]string{"import", "--start", "yesterday", "x"}, "--start yesterday: \"yesterday\" is no time; write it as"},
	} {
		status, out, errOut := command(t, test.args...)
		if status != 2 || out != "" || !strings.Contains(errOut, test.want) || strings.Contains(errOut, "nightfloor: nightfloor") || strings.Contains(errOut, "strconv") || strings.Count(errOut, "\n") != 1 {
			t.Errorf("%q: status %d, no %q in %q", test.args, status, test.want, errOut)
		}
	}
}

// A command that there is not is named before what was written behind it, and what it may have meant
// is; helps of it are none.
func TestUnknownCommands(t *testing.T) {
	for line, want := range map[string]string{
		"database chek --db s.db":         `unknown command "chek"; did you mean check?`,
		"--quiet database chek --db s":    `unknown command "chek"; did you mean check?`,
		"calibrate nois --plan x":         `unknown command "nois"; did you mean noise?`,
		"reprt --db s.db":                 `unknown command "reprt"; did you mean report?`,
		"help nonsense":                   `unknown command or argument "nonsense"; see nightfloor --help`,
		"help database chek":              `unknown command "chek"; did you mean check?`,
		"database nonsense --help":        `unknown command or argument "nonsense"; see nightfloor database --help`,
		"--flug":                          "unknown flag: --flug; see nightfloor --help",
		"database --flug check":           "database: unknown flag: --flug; see nightfloor database --help",
		"plan new":                        "plan new: name one file; see nightfloor plan new --help",
		"calibrate noise --plan x --flug": "calibrate noise: unknown flag: --flug; see nightfloor calibrate noise --help",
	} {
		if status, out, errOut := command(t, strings.Fields(line)...); status != 2 || out != "" || errOut != "nightfloor: "+want+"\n" {
			t.Errorf("%s: status %d, %q, want %q; %s", line, status, errOut, want, out)
		}
	}
	for line, want := range map[string]string{
		"help database check":   "Checks that the database is whole",
		"help":                  "Start with:",
		"help help":             "Help",
		"help report":           "Makes a report",
		"completion bash":       "nightfloor",
		"__complete report qua": "quality",
		"database check --help": "Checks that the database is whole",
		"--verbose plan --help": "Writes and checks survey plans",
	} {
		if status, out, errOut := command(t, strings.Fields(line)...); status != 0 || !strings.Contains(out, want) {
			t.Errorf("%s: status %d, %q, no %q in %.100q", line, status, errOut, want, out)
		}
	}
}

// A survey ends at the next time of day, or at a time that is written out and lies ahead.
func TestUntil(t *testing.T) {
	now := time.Date(2026, 11, 3, 21, 0, 0, 0, time.Local)
	for text, want := range map[string]time.Time{
		"06:30":                time.Date(2026, 11, 4, 6, 30, 0, 0, time.Local),
		"20:59:30":             time.Date(2026, 11, 4, 20, 59, 30, 0, time.Local),
		" 6:30 ":               time.Date(2026, 11, 4, 6, 30, 0, 0, time.Local),
		"2026-11-05 06:30":     time.Date(2026, 11, 5, 6, 30, 0, 0, time.Local),
		"2026-11-06T05:30:00Z": time.Date(2026, 11, 6, 5, 30, 0, 0, time.UTC),
		"2026-11-03 20:59":     {}, // behind
		"soon":                 {},
	} {
		at, err := recordOptions{until: text}.end(now)
		if want.IsZero() != (err != nil) || err == nil && !at.Equal(want) {
			t.Errorf("%s: %v, %v; want %v", text, at, err, want)
		}
	}
}

// How a value without unit or zone was read is said back, and warned of where it is not likely
// what was meant; with --quiet it is not.
func TestValuesAreSaidBack(t *testing.T) {
	noise := make([]byte, 2*120_000) // 50 ms at 2.4 MHz
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range noise {
		noise[i] = byte(127.5 + 20*rng.NormFloat64())
	}
	file := filepath.Join(t.TempDir(), "noise.cu8")
	if err := os.WriteFile(file, noise, 0o600); err != nil {
		t.Fatal(err)
	}
	rate := []string{"--rate", "2400000"}
	for _, test := range []struct {
		args         []string
		status       int
		says, prints string
	}{
		{[]string{"--center", "9650000"}, 0, "--rate 2400000 is read as 2.4 MHz\nnightfloor: --center 9650000 is read as 9.65 MHz\n", "31 m"},
		{[]string{"--center", "9.65MHz", "--segment", "9500-9600"}, 0, "--segment 9500-9600 is read as 9.5–9.6 MHz\n", "9500-9600 kHz"},
		{[]string{"--center", "9.65MHz", "--segment", "31m"}, 0, "", "31 m"},
		{[]string{"--center", "9.65MHz", "--segment", "31 m"}, 0, "", "31 m"},
		{[]string{"--center", "9.65MHz", "--segment", "9.4-9.9"}, 1, "--segment 9.4-9.9 is taken as 9.4–9.9 kHz, which is not likely meant", ""},
		{[]string{"--center", "9.65GHz"}, 0, "--center 9.65GHz is taken as 9650 MHz, which is not likely meant", ""},
		{[]string{"--center", "9.65MHz", "--rate", "2.4"}, 1, "--rate 2.4 is taken as 2.4 Hz, which is not likely meant: a bare number is in Hz; write 2.4MHz or 2400kHz for others", ""},
		{[]string{"--center", "9650"}, 1, "--center 9650 is read as 9.65 kHz, which is not likely meant; write 9650kHz\n", ""},
		{[]string{"--center", "9650"}, 1, "its usable passband -790.35–809.65 kHz reaches below 0 Hz; give the true centre with its unit, as --center 9650kHz, or the part to measure with --segment\n", ""},
		{[]string{"--center", "9650", "--segment", "1-809.65kHz"}, 0, "", "1-809.65 kHz"},
		{[]string{"--center", "9650000000"}, 0, "--center 9650000000 is taken as 9650 MHz, which is not likely meant: a bare number is in Hz; write 9.65MHz", ""},
	} {
		status, out, errOut := command(t, append(append([]string{"measure", file}, rate...), test.args...)...)
		if status != test.status || !strings.Contains(errOut, test.says) || !strings.Contains(out, test.prints) {
			t.Errorf("%q: status %d, no %q in %q, or no %q in %q", test.args, status, test.says, errOut, test.prints, out)
		}
	}
	if status, _, errOut := command(t, "measure", file, "--center", "9650000", "--rate", "2400000", "--quiet"); status != 0 || errOut != "" {
		t.Errorf("status %d, and quiet it says %q", status, errOut)
	}
	for _, rate := range []string{"2.4Msps", "2400kS/s", "2.4 MHz"} {
		if status, out, errOut := command(t, "measure", file, "--center", "9.65MHz", "--rate", rate); status != 0 || errOut != "" || !strings.Contains(out, "31 m") {
			t.Errorf("%s: status %d, %s, %s", rate, status, out, errOut)
		}
	}
	database := filepath.Join(t.TempDir(), "x.db")
	status, out, errOut := command(t, "import", file, "--db", database, "--antenna", "whip", "--center", "9650", "--rate", "2.4MHz", "--start", "2199-11-03T21:04:00Z")
	if !strings.Contains(errOut, "nightfloor: --start 2199-11-03T21:04:00Z lies ahead by more than a day; check the date\n") || status != 1 || !strings.HasSuffix(out, "refused 1\n") || !strings.Contains(errOut, "reaches below 0 Hz") {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
	start := time.Date(2026, 11, 3, 21, 4, 0, 0, time.Local)
	status, _, errOut = command(t, "import", file, "--db", database, "--antenna", "whip", "--center", "9.65MHz", "--rate", "2.4MS/s", "--gain", "20.7 dB", "--start", "2026-11-03 21:04")
	if want := "--start 2026-11-03 21:04 is read as 3 Nov 2026 21:04:00 " + start.Format("MST"); status != 0 || !strings.Contains(errOut, want) {
		t.Errorf("status %d: no %q in %q", status, want, errOut)
	}
	from := []string{"--from", "2026-11-03 21:03", "--to", "2026-11-03 21:05"}
	for segment, found := range map[string]bool{"31m": true, "31 m": true, "9400-9900": true, "49m": false} {
		status, out, errOut := command(t, append([]string{"report", "floor", "--db", database, "--segment", segment}, from...)...)
		if found != (status == 0 && strings.Contains(out, "31 m")) || !strings.Contains(errOut, "--from 2026-11-03 21:03 is read as 3 Nov 2026 21:03:00 ") {
			t.Errorf("%s: status %d, %s, %s", segment, status, out, errOut)
		}
	}
}
