package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
)

// The surveys of noteHouse, by clocks an hour ahead of UTC: one that ended, from
// 20:00 to 22:00 on 2 November, and one that runs since 20:00 on 3 November and has
// measured until 21:00:01. It is 21:04:30 then.
var (
	noteZone = time.FixedZone("CET", 3600)
	noteNow  = time.Date(2026, 11, 3, 21, 4, 30, 250e6, noteZone)
	notePlan = `[receiver]
uri = "rtlsdr:"
front_end = "direct sampling Q"
[[setup]]
antenna = "dipole"
placement = "loft"
[[segment]]
band = "31 m"
`
)

// noteHouse stores the two surveys, the second by a record that still holds the
// database, and gives its path.
func noteHouse(t *testing.T) (path string, db *store.Store) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "house.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	release, err := db.LockWriter(noteNow)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { release() })
	evening := time.Date(2026, 11, 3, 20, 0, 0, 0, noteZone)
	first := noteSurvey(t, db, survey.Survey{Kind: survey.KindRecord, Start: evening.AddDate(0, 0, -1)})
	if err := db.EndSurvey(t.Context(), first, evening.AddDate(0, 0, -1).Add(2*time.Hour), "done"); err != nil {
		t.Fatal(err)
	}
	noteSurvey(t, db, survey.Survey{Kind: survey.KindRecord, Start: evening, Plan: notePlan})
	return path, db
}

// noteSurvey begins a survey and stores 61 sweeps, one a minute, through loop and whip
// by turns.
func noteSurvey(t *testing.T, db *store.Store, s survey.Survey) int64 {
	t.Helper()
	id, err := db.BeginSurvey(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 61 {
		setup := survey.Setup{Antenna: "loop", Placement: "attic"}
		if i%2 == 1 {
			setup.Antenna = "whip"
		}
		at := s.Start.Add(time.Duration(i) * time.Minute).UTC()
		err := db.AddSweep(t.Context(), &survey.Sweep{Survey: id, Round: i/2 + 1, Visit: i + 1, Setup: setup, Start: at, Readings: []survey.Reading{{
			Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Start: at, Duration: time.Second, Centre: 9.65e6, SampleRate: 1e6,
			BinWidth: 73, Resolution: 110, Gain: survey.Gain{DB: 30, Known: true}, Floor: &survey.Floor{Density: -120, Sigma: 0.1, Quiet: -120},
			Carriers: []survey.Carrier{{Frequency: 9.5e6, Power: 1e-7, Sigma: 1e-10, Detected: true}}}}})
		if err != nil {
			t.Fatal(err)
		}
	}
	return id
}

// noteAt runs note at a time, by clocks an hour ahead of UTC, and gives what it said.
func noteAt(t *testing.T, now time.Time, o noteOptions) (said string, err error) {
	t.Helper()
	var out, errOut bytes.Buffer
	err = runNote(t.Context(), o, now, console.New(nil, &out, &errOut))
	if out.Len() > 0 {
		t.Errorf("on standard output: %s", out.String())
	}
	return errOut.String(), err
}

func eventsIn(t *testing.T, db *store.Store) []survey.Event {
	t.Helper()
	events, err := db.Events(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	return events
}

func TestNoteIntoTheRightSurvey(t *testing.T) {
	notInShort(t)
	t.Parallel()
	for name, test := range map[string]struct {
		at, say string
		survey  int64
		want    time.Time
	}{
		"now":             {"", "noted in survey 2 at 21:04:30 CET: kettle on", 2, noteNow},
		"clock":           {"20:30", "noted in survey 2 at 20:30:00 CET: kettle on", 2, time.Date(2026, 11, 3, 19, 30, 0, 0, time.UTC)},
		"clock, seconds":  {"21:04:29", "noted in survey 2 at 21:04:29 CET: kettle on", 2, time.Date(2026, 11, 3, 20, 4, 29, 0, time.UTC)},
		"yesterday":       {"21:30", "noted in survey 1 at 2 Nov 2026 21:30:00 CET: kettle on", 1, time.Date(2026, 11, 2, 20, 30, 0, 0, time.UTC)},
		"date":            {"2026-11-02 20:00", "noted in survey 1 at 2 Nov 2026 20:00:00 CET: kettle on", 1, time.Date(2026, 11, 2, 19, 0, 0, 0, time.UTC)},
		"date and zone":   {"2026-11-02T21:00:00Z", "noted in survey 1 at 2 Nov 2026 22:00:00 CET: kettle on", 1, time.Date(2026, 11, 2, 21, 0, 0, 0, time.UTC)},
		"as it was begun": {"2026-11-03T19:00:00Z", "noted in survey 2 at 20:00:00 CET: kettle on", 2, time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC)},
	} {
		path, db := noteHouse(t)
		said, err := noteAt(t, noteNow, noteOptions{text: " kettle on ", at: test.at, database: path})
		if err != nil || said != "nightfloor: "+test.say+"\n" {
			t.Errorf("%s: %q, %v; want %q", name, said, err, test.say)
		}
		want := []survey.Event{{Survey: test.survey, At: test.want.UTC(), Text: "kettle on"}}
		if got := eventsIn(t, db); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
}

// What cannot be noted is told why, and nothing is stored.
func TestNoteRefuses(t *testing.T) {
	path, db := noteHouse(t)
	usage := func(err error) bool { return errors.As(err, new(console.UsageError)) }
	for name, test := range map[string]struct {
		o     noteOptions
		usage bool
		want  string
	}{
		"no text":        {noteOptions{text: "  "}, true, "no text; write what happened"},
		"long":           {noteOptions{text: strings.Repeat("ä", 501)}, true, "501 characters; 500 are the most"},
		"control":        {noteOptions{text: "kettle\x1b[31m"}, true, "control characters"},
		"no UTF-8":       {noteOptions{text: "kettle\xff"}, true, "no UTF-8"},
		"no time":        {noteOptions{text: "x", at: "yesterday"}, true, `--at "yesterday" is no time; write it as`},
		"ahead":          {noteOptions{text: "x", at: "2026-11-03 21:05"}, true, "--at 21:05:00 CET lies ahead"},
		"between":        {noteOptions{text: "x", at: "2026-11-03 12:00"}, false, "no survey in " + path + " covers that time; there is survey 1 (from 2 Nov 2026 20:00:00 CET, until 2 Nov 2026 22:00:00 CET), survey 2 (from 20:00:00 CET, measured until 21:00:01 CET, not ended)"},
		"other survey":   {noteOptions{text: "x", survey: 7}, false, "note into survey 7: there is no such survey"},
		"ended":          {noteOptions{text: "x", survey: 1}, false, "no survey is running"},
		"out of survey":  {noteOptions{text: "x", survey: 1, at: "20:30"}, false, "covers that time; there is survey 1"},
		"no such":        {noteOptions{repeaked: "lop"}, false, `note --repeaked "lop": survey 2 has no such antenna; it has loop, whip, dipole; name one`},
		"log and text":   {noteOptions{text: "x", switching: "log.csv"}, true, "leave TEXT, --at and --repeaked out"},
		"no log":         {noteOptions{switching: filepath.Join(t.TempDir(), "log.csv")}, false, "name a log that can be read"},
		"no threshold":   {noteOptions{switching: "log.csv", threshold: -1}, true, "--threshold -1"},
		"no database":    {noteOptions{text: "x", database: path + "x"}, false, "there is no such file"},
		"foreign folder": {noteOptions{text: "x", database: filepath.Dir(path)}, false, "a folder, not a file"},
	} {
		if test.o.database == "" {
			test.o.database = path
		}
		said, err := noteAt(t, noteNow, test.o)
		if err == nil || said != "" || usage(err) != test.usage || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: %v (usage: %v), said %q; want %q", name, err, usage(err), said, test.want)
		}
	}
	if got := eventsIn(t, db); len(got) != 0 {
		t.Errorf("stored %v", got)
	}
	if _, err := os.Stat(path + "x"); err == nil {
		t.Error("a database was made")
	}
	for _, args := range [][]string{{"note"}, {"note", "kettle", "--device", "kettle"}, {"note", "kettle", "--threshold", "3"}} {
		if status, _, errOut := command(t, args...); status != 2 {
			t.Errorf("%v: status %d, %s", args, status, errOut)
		}
	}
}

// Words need no quotes; the real clock is that of the machine.
func TestNoteFromTheCommandLine(t *testing.T) {
	path := filepath.Join(t.TempDir(), "house.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if status, _, errOut := command(t, "note", "kettle", "on", "--db", path); status != 1 || !strings.Contains(errOut, "holds no survey yet; begin one with nightfloor record") {
		t.Errorf("status %d, %s", status, errOut)
	}
	before := time.Now().Truncate(time.Millisecond)
	if _, err := db.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Start: before}); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := command(t, "note", "kettle", "on", "--db", path)
	if status != 0 || out != "" || !regexp.MustCompile(`^nightfloor: noted in survey 1 at (\d+ \w+ \d{4} )?\d\d:\d\d:\d\d \S+: kettle on\n$`).MatchString(errOut) {
		t.Errorf("status %d, %q, %q", status, out, errOut)
	}
	if got := eventsIn(t, db); len(got) != 1 || got[0].At.Before(before) || got[0].At.After(time.Now()) {
		t.Errorf("%v, want one between %v and now", got, before)
	}
}

// A survey that ended without a word still takes a note, which says that nothing was
// measured since: 21:00:01 was the end of its last reading.
func TestNoteIntoASilentSurvey(t *testing.T) {
	path, _ := noteHouse(t)
	said, err := noteAt(t, noteNow.Add(20*time.Minute), noteOptions{text: "kettle on", database: path})
	if err != nil || !strings.Contains(said, "survey 2 has measured nothing since 21:00:01 CET; if record is not running") {
		t.Errorf("%q, %v", said, err)
	}
}

// Of surveys that have not ended the one written last counts, not the one begun last.
// A simulated one has a clock of its own, and comes behind any real one.
func TestNoteIntoOneOfSeveralSurveys(t *testing.T) {
	notInShort(t)
	path, db := noteHouse(t)
	future := time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	noteSurvey(t, db, survey.Survey{Kind: survey.KindRecord, Simulated: true, Start: future})
	if _, err := db.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Start: noteNow.Add(-30 * time.Minute)}); err != nil {
		t.Fatal(err)
	}
	if said, err := noteAt(t, noteNow, noteOptions{text: "kettle on", database: path}); err != nil || !strings.Contains(said, "survey 2 at 21:04:30") {
		t.Errorf("%q, %v", said, err)
	}
	if said, err := noteAt(t, noteNow, noteOptions{text: "kettle on", survey: 4, database: path}); err != nil || !strings.Contains(said, "survey 4 at 21:04:30") {
		t.Errorf("%q, %v", said, err)
	}
	for _, id := range []int64{2, 4} {
		if err := db.EndSurvey(t.Context(), id, noteNow, "done"); err != nil {
			t.Fatal(err)
		}
	}
	// Its last reading began at 1:00 UTC and took a second.
	if said, err := noteAt(t, noteNow, noteOptions{text: "kettle on", database: path}); err != nil || !strings.Contains(said, "survey 3 at 1 Jan 2030 02:00:01 CET") {
		t.Errorf("%q, %v", said, err)
	}
	if said, err := noteAt(t, noteNow, noteOptions{text: "kettle off", at: "2030-01-01T00:30:00Z", database: path}); err != nil || !strings.Contains(said, "survey 3 at 1 Jan 2030 01:30:00 CET") {
		t.Errorf("%q, %v", said, err)
	}
}

// A database that an older record may be writing stays as it is.
func TestNoteLeavesOlderDatabases(t *testing.T) {
	t.Parallel()
	path, db := noteHouse(t)
	db.Close()
	version := func(query string) (n int) {
		t.Helper()
		raw, err := sql.Open("sqlite", "file:"+path)
		if err != nil {
			t.Fatal(err)
		}
		defer raw.Close()
		if query != "" {
			if _, err := raw.ExecContext(context.Background(), query); err != nil {
				t.Fatal(err)
			}
		}
		if err := raw.QueryRow("PRAGMA user_version").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	version("PRAGMA user_version = 2")
	_, err := noteAt(t, noteNow, noteOptions{text: "kettle on", database: path})
	if !errors.Is(err, store.ErrOlder) || !strings.Contains(err.Error(), "no record of the older nightfloor writes it") {
		t.Errorf("%v, want ErrOlder", err)
	}
	if n := version(""); n != 2 {
		t.Errorf("the schema is %d, want 2 as before", n)
	}
}

// A repeaked antenna is another in reports. Sweeps through loop and whip take turns
// from 20:00 to 21:00: from 20:30 on there are those of 20:30, 20:32, … 21:00, 16 of
// 31. An antenna of the plan may be repeaked before its first sweep.
func TestNoteRepeaked(t *testing.T) {
	t.Parallel()
	path, db := noteHouse(t)
	said, err := noteAt(t, noteNow, noteOptions{repeaked: "loop", at: "20:30", survey: 2, database: path})
	if err != nil || !strings.Contains(said, "noted in survey 2 at 20:30:00 CET: loop repeaked") {
		t.Fatal(said, err)
	}
	if _, err := noteAt(t, noteNow, noteOptions{repeaked: "dipole", text: "new capacitor", database: path}); err != nil {
		t.Error(err)
	}
	if got := eventsIn(t, db); len(got) != 2 || got[0].Repeaked != "loop" || got[1].Repeaked != "dipole" || got[1].Text != "new capacitor" {
		t.Errorf("%v", got)
	}
	status, out, errOut := command(t, "report", "--db", path, "--survey", "2", "--format", "json")
	var all struct {
		Floor   result.FloorTable
		Quality result.Quality
	}
	if status != 0 || json.Unmarshal([]byte(out), &all) != nil {
		t.Fatalf("status %d, %s", status, errOut)
	}
	got := map[string]int{}
	for _, r := range all.Floor.Rows {
		got[r.Antenna] += r.Readings
	}
	if got["loop"] != 15 || got["loop (repeaked 3 Nov 19.30 UTC)"] != 16 || got["whip"] != 30 || len(got) != 3 {
		t.Errorf("readings by antenna: %v", got)
	}
	if events := all.Quality.Surveys[0].Events; len(events) != 2 || events[0].Repeaked == nil || *events[0].Repeaked != "loop" {
		t.Errorf("%+v", events)
	}
}

// A log's switchings go where they belong, once; what lies outside is told. Survey 1
// ends at 22:00 on the 2nd, survey 2 has measured until 21:00:01 on the 3rd.
func TestNoteSwitchings(t *testing.T) {
	t.Parallel()
	path, db := noteHouse(t)
	log := filepath.Join(t.TempDir(), "plug.csv")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(log, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("time,power W\n2026-11-02 19:00,0\n2026-11-02 21:00,2000\n2026-11-02 21:05,1\n2026-11-02 22:01,2000\n2026-11-03 20:30,0\n2026-11-03 21:00:05,9\n")
	options := noteOptions{switching: log, device: "kettle", threshold: onWatts, database: path}
	for _, want := range []string{"switchings: 3 noted, 0 noted before, 2 outside every survey", "switchings: 0 noted, 3 noted before, 2 outside every survey"} {
		said, err := noteAt(t, noteNow, options)
		if err != nil || !strings.Contains(said, want) || !strings.Contains(said, "the log goes from 2 Nov 2026 21:00:00 CET to 21:00:05 CET; there is survey 1 (") {
			t.Errorf("%q, %v; want %q", said, err, want)
		}
	}
	utc := func(day, hour, minute int) time.Time { return time.Date(2026, 11, day, hour, minute, 0, 0, time.UTC) }
	want := []survey.Event{{Survey: 1, At: utc(2, 20, 0), Text: "kettle on"}, {Survey: 1, At: utc(2, 20, 5), Text: "kettle off"}, {Survey: 2, At: utc(3, 19, 30), Text: "kettle off"}}
	if got := eventsIn(t, db); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	write("2026-11-02 21:10,on\n2026-11-02 21:1,on\n2026-11-02 21:12,perhaps\n")
	_, err := noteAt(t, noteNow, options)
	if err == nil || !strings.Contains(err.Error(), log+": line 2: time ") || !strings.Contains(err.Error(), log+": line 3: state ") || len(eventsIn(t, db)) != len(want) {
		t.Errorf("%v, %d events; want two mistakes and nothing stored", err, len(eventsIn(t, db)))
	}
	write("2026-11-02 21:10,0\n2026-11-02 21:11,0\n")
	if said, err := noteAt(t, noteNow, options); err != nil || !strings.Contains(said, "switchings: 1 noted, 0 noted before, 0 outside") {
		t.Errorf("%q, %v", said, err)
	}
	write("time,W\n2026-11-02 21:10,700\n2026-11-02 21:11,700\n")
	if said, err := noteAt(t, noteNow, options); err != nil || !strings.Contains(said, "nothing was switched in it") {
		t.Errorf("%q, %v", said, err)
	}
}
