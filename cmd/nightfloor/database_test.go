package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

// twoNights gives a database of imports without a name and of two nights, through whip and loop.
func twoNights(t *testing.T) (database string) {
	t.Helper()
	database = filepath.Join(t.TempDir(), "night.db")
	nights(t, database, "", "20261101")
	nights(t, database, "first night", "20261103")
	nights(t, database, "second night", "20261104")
	return database
}

// storedSurveys reads what report quality says of each survey.
func storedSurveys(t *testing.T, database string, args ...string) []qualitySurvey {
	t.Helper()
	var document struct{ Surveys []qualitySurvey }
	status, out, errOut := command(t, append([]string{"report", "quality", "--db", database, "--format", "json"}, args...)...)
	if err := json.Unmarshal([]byte(out), &document); err != nil || status != 0 {
		t.Fatalf("status %d, %v: %s", status, err, errOut)
	}
	return document.Surveys
}

// setupsIn gives the setups of a database, by survey.
func setupsIn(t *testing.T, database string) string {
	t.Helper()
	db, err := store.OpenReadOnly(t.Context(), database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	surveys, err := db.Surveys(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, s := range surveys {
		setups, err := db.SetupsOf(t.Context(), s.ID)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, fmt.Sprint(setups))
	}
	return strings.Join(all, " ")
}

// Setups are renamed as they are written everywhere; what cannot be meant is refused and changes
// nothing, and the database stays whole.
func TestRenameSetup(t *testing.T) {
	database := filepath.Join(t.TempDir(), "night.db")
	nights(t, database, "", "20261103")
	for _, step := range []struct {
		from, to string
		status   int
		says     string // on either stream
		setups   string
	}{
		{"loop", "frame", 0, "loop@loft is frame@loft now\nchanged: survey 1\n", "[whip@loft frame@loft]"},
		{"frame@loft", "frame@attic:110", 0, "frame@loft is frame@attic:110 now", "[whip@loft frame@attic:110]"},
		{"frame@attic:110", "frame@attic", 0, "frame@attic:110 is frame@attic now", "[whip@loft frame@attic]"},
		{"…p", "frame", 0, "whip@loft is frame@loft now", "[frame@loft frame@attic]"}, // a name as tables cut it
		{"frame@loft", "whip", 0, "frame@loft is whip@loft now", "[whip@loft frame@attic]"},
		{"…", "loop", 1, "it fits whip@loft and frame@attic; name one antenna", "[whip@loft frame@attic]"},
		{"lop", "loop", 1, "rename-setup lop: no such setup; there is whip@loft and frame@attic", "[whip@loft frame@attic]"},
		{"frame", "frame@attic", 1, "it is called so already; nothing is changed", "[whip@loft frame@attic]"},
		{"frame", "a\x1bb@c", 2, "a name is printable", "[whip@loft frame@attic]"},
		{"frame", `"a:b"@attic`, 0, `frame@attic is "a:b"@attic now`, `[whip@loft "a:b"@attic]`},
		{`"a:b"@attic`, "frame", 0, `"a:b"@attic is frame@attic now`, "[whip@loft frame@attic]"},
		{"frame", "loop@loft:400", 2, "bearing", "[whip@loft frame@attic]"},
		{"frame", "whip@loft", 2, "they become one and cannot be parted again; nobody can be asked here; give --yes", "[whip@loft frame@attic]"},
		{"frame", "whip@loft --yes", 0, "frame@attic is whip@loft now", "[whip@loft]"},
	} {
		to, yes := strings.CutSuffix(step.to, " --yes")
		status, out, errOut := command(t, "database", "rename-setup", step.from, to, fmt.Sprint("--yes=", yes), "--db", database)
		if got := setupsIn(t, database); status != step.status || !strings.Contains(out+errOut, step.says) || got != step.setups {
			t.Errorf("%s to %s: status %d, %s%s; setups %s, want %s", step.from, step.to, status, out, errOut, got, step.setups)
		}
		if status != 0 && !errorLine.MatchString(errOut) {
			t.Errorf("%q is no error line", errOut)
		}
	}
	if s := storedSurveys(t, database)[0]; s.Rounds != 1 || s.Sweeps != 2 {
		t.Errorf("%+v: two sweeps of one visit are one round", s)
	}
	if status, out, errOut := command(t, "database", "check", "--db", database); status != 0 {
		t.Errorf("%s%s", out, errOut)
	}
}

// A misspelt name has made one round of what are two: mended, the rounds are those of the turns.
func TestRenamedImportsAreCountedAnew(t *testing.T) {
	database, folder := filepath.Join(t.TempDir(), "night.db"), t.TempDir()
	for i, antenna := range []string{"loop", "whip", "lop", "whip"} {
		file := noiseIn(t, folder, fmt.Sprintf("9650kHz 48ksps 20261103T21%02d10Z.cu8", i))
		if status, _, errOut := command(t, "import", file, "--db", database, "--antenna", antenna, "--placement", "loft", "--quiet"); status != 0 {
			t.Fatal(errOut)
		}
	}
	rounds := func() (rounds []int) {
		db, err := store.OpenReadOnly(t.Context(), database)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if err := db.SweepsOf(t.Context(), 1, func(s *survey.Sweep) error { rounds = append(rounds, s.Round); return nil }); err != nil {
			t.Fatal(err)
		}
		return rounds
	}
	if before := rounds(); !slices.Equal(before, []int{1, 1, 1, 2}) {
		t.Fatalf("rounds %v before", before)
	}
	if status, out, errOut := command(t, "database", "rename-setup", "lop", "loop", "--yes", "--db", database); status != 0 || out != "lop@loft is loop@loft now\nchanged: survey 1\n" {
		t.Fatal(out, errOut)
	}
	if after := rounds(); !slices.Equal(after, []int{1, 1, 2, 2}) {
		t.Errorf("rounds %v, want two of two", after)
	}
}

// Setups become one, for good, only where somebody has said so; what that does to rounds is told.
func TestRenameThatMergesAsks(t *testing.T) {
	database := filepath.Join(t.TempDir(), "night.db")
	nights(t, database, "", "20261103")
	const want = "rename-setup whip: loop@loft is there beside whip@loft: both are in survey 1, and they become one and cannot be parted again; nobody can be asked here; give --yes"
	if status, out, errOut := command(t, "database", "rename-setup", "whip", "loop", "--db", database); status != 2 || out != "" || !strings.Contains(errOut, want) || !errorLine.MatchString(errOut) || setupsIn(t, database) != "[whip@loft loop@loft]" {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
	nights(t, database, "", "20261104")
	if status, out, errOut := command(t, "database", "rename-setup", "whip", "loop", "--yes", "--db", database); status != 0 || out != "whip@loft is loop@loft now\nchanged: survey 1 (1 round, before 2)\n" {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
}

// Setups that the plan tells apart are not made one, and what the plan says of an antenna stays with it.
func TestRenameKeepsWhatPlansSay(t *testing.T) {
	database := filepath.Join(t.TempDir(), "night.db")
	db, err := store.Open(t.Context(), database)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)
	id, err := db.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Plan: "[[antenna]]\nname = \"loop\"\nkind = \"loop\"\nremoved = [\"whip\"]\n", Start: start})
	for i, antenna := range []string{"whip", "loop", "wire"} {
		if err == nil {
			err = db.AddSweep(t.Context(), &survey.Sweep{Survey: id, Round: 1, Visit: i + 1, Setup: survey.Setup{Antenna: antenna, Placement: "loft"}, Start: start.Add(time.Duration(i) * time.Minute)})
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	const setups = "[whip@loft loop@loft wire@loft]"
	for names, want := range map[[2]string]string{
		{"loop", "frame"}: `the plan of survey 1 says what kind of antenna "loop" is, and not the same of "frame"; keep`,
		{"whip", "rod"}:   `the plan of survey 1 says of another antenna how it belongs to "whip"; keep`,
		{"wire", "whip"}:  "wire@loft: the two were compared with each other: survey 1 has both in round 1; choose",
	} {
		if status, _, errOut := command(t, "database", "rename-setup", names[0], names[1], "--yes", "--db", database); status != 1 || !strings.Contains(errOut, want) || setupsIn(t, database) != setups {
			t.Errorf("%v: status %d, %s, %s", names, status, errOut, setupsIn(t, database))
		}
	}
	// Placement and bearing are the person's to tell.
	if status, _, errOut := command(t, "database", "rename-setup", "loop", "loop@attic:20", "--db", database); status != 0 || !strings.Contains(errOut, "survey 1 keeps its plan") || setupsIn(t, database) != "[whip@loft loop@attic:20 wire@loft]" {
		t.Errorf("status %d, %s, %s", status, errOut, setupsIn(t, database))
	}
	// While somebody records, nothing is renamed or removed.
	release, err := db.LockWriter(start)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	defer release()
	for _, args := range [][]string{{"rename-setup", "wire", "long wire"}, {"remove-survey", "1", "--yes"}} {
		if status, _, errOut := command(t, append(append([]string{"database"}, args...), "--db", database)...); status != 1 || !strings.Contains(errOut, "another record is writing it") {
			t.Errorf("%v: status %d, %s", args, status, errOut)
		}
	}
}

// A survey is removed by number or name, its recordings can be imported anew, and nothing else changes.
func TestRemoveSurvey(t *testing.T) {
	database := twoNights(t)
	for want, args := range map[string][]string{
		`removed for good; nobody can be asked here; give --yes`:                       {"first night"},
		"remove-survey: there is no survey 8; nightfloor report quality shows":         {"8"},
		`remove-survey: no survey is called "third"; there is survey 1, survey 2 "fir`: {"third", "--yes"},
		"remove-survey: there is no survey 7; nightfloor report quality shows":         {"7", "--yes"},
		"remove-survey: name one survey by its number or name":                         {"1", "2", "--yes"},
	} {
		if status, out, errOut := command(t, append([]string{"database", "remove-survey", "--db", database}, args...)...); status == 0 || out != "" || !strings.Contains(errOut, want) || !errorLine.MatchString(errOut) {
			t.Errorf("%q: status %d, %s%s", args, status, out, errOut)
		}
	}
	status, out, errOut := command(t, "database", "remove-survey", "first night", "--yes", "--db", database)
	if status != 0 || !strings.HasPrefix(out, `removed survey 2 "first night" (imports, `) || errOut != "" {
		t.Errorf("status %d, %s%s", status, out, errOut)
	}
	left := storedSurveys(t, database)
	if len(left) != 2 || left[0].Name != nil || left[0].Sweeps != 2 || *left[1].Name != "second night" || left[1].Sweeps != 2 {
		t.Errorf("%+v", left)
	}
	if status, out, errOut := command(t, "database", "check", "--db", database); status != 0 {
		t.Errorf("%s%s", out, errOut)
	}
	nights(t, database, "first night", "20261103")
	if again := storedSurveys(t, database, "--survey", "first night"); len(again) != 1 || again[0].Survey != 4 || again[0].Sweeps != 2 {
		t.Errorf("%+v", again)
	}
}
