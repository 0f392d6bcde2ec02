//go:build unix

package main

import (
	"bufio"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

var kills = flag.Int("kills", 11, "processes that TestKilledAndResumed kills")

// TestKilledAndResumed kills a record, or what else writes the database, at random moments,
// again and again, and takes the survey up. Whatever was reported stored is there each time,
// as it was reported, no number is given twice, and the database is whole. The last one is let
// come to its end.
func TestKilledAndResumed(t *testing.T) {
	notInShort(t)
	t.Parallel()
	count := *kills
	k := newKillLoop(t, 3*count/2)
	for i := range count {
		kind := killings[i%len(killings)]
		if kind.does(t, k); !k.ended {
			k.killed[kind.name]++
		}
		k.look(t, i%10 == 9)
	}
	k.record(t)
	k.look(t, true)
	k.imports(t)
	sweeps, surveys, _ := k.sweeps(t)
	wholeRounds(t, sweeps, surveys, k.rounds)
	for _, name := range slices.Sorted(maps.Keys(k.killed)) {
		t.Logf("killed %4d times %s", k.killed[name], name)
	}
	t.Logf("of those that it brought up to date %d were still the older one", k.stillOld)
	n := count - k.endings
	t.Logf("%d kills; %d sweeps reported stored, %d lost, %d numbers given twice; %d notes reported, %d lost; the database checked %d times, %d of them by `database check`; %d surveys",
		n, len(k.reported), len(k.lost), k.twice, len(k.notes), len(k.notesLost), k.checks, k.commands, len(surveys))
	faultRow(t, fmt.Sprintf("SIGKILL, %d times", n), "nothing: it is killed", fmt.Sprintf("%d sweeps reported, %d lost; %s", len(k.reported), len(k.lost), holds(t, k.database)), -1)
	if len(k.lost)+k.twice+len(k.notesLost) != 0 || len(k.reported) < count || n < count/2 {
		t.Error("something is lost, or too little was done to see it")
	}
}

// A killLoop is a bench on which processes are killed.
type killLoop struct {
	*bench
	rng       *rand.Rand
	rounds    int
	older     string          // an older program's database
	reported  map[string]bool // "sweep 1 round 1 …", as it was reported
	numbers   map[string]bool
	notes     map[string]bool
	files     []string // recordings that were imported, or were to be
	killed    map[string]int
	ended     bool // the last process came to its end before it was killed
	endings   int
	lost      map[string]bool
	notesLost map[string]bool
	stillOld  int // older databases that were not yet brought up to date
	twice     int
	checks    int
	commands  int
}

func newKillLoop(t *testing.T, rounds int) *killLoop {
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, func(p string) string {
		return strings.NewReplacer("rounds = 6", fmt.Sprintf("rounds = %d", rounds), `dwell = "200ms"`, `dwell = "40ms"`).Replace(p)
	})
	return &killLoop{bench: b, rng: rand.New(rand.NewPCG(1, 50)), rounds: rounds, older: olderDatabase(t, b.folder),
		reported: map[string]bool{}, numbers: map[string]bool{}, notes: map[string]bool{}, killed: map[string]int{}, lost: map[string]bool{}, notesLost: map[string]bool{}}
}

// olderSweeps is how many sweeps an older program's database holds.
const olderSweeps = 5000

// olderDatabase makes one of before there were checksums.
func olderDatabase(t *testing.T, folder string) string {
	t.Helper()
	path := filepath.Join(folder, "older.db")
	steps, err := filepath.Glob("../../store/schema/migrations/*.sql")
	if err != nil || len(steps) < 5 {
		t.Fatal(steps, err)
	}
	sqlDo(t, path, func(db *sql.DB) {
		for _, step := range steps[:4] {
			text, err := os.ReadFile(step)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := db.Exec(string(text)); err != nil {
				t.Fatal(err)
			}
		}
		_, err := db.Exec(fmt.Sprintf(`PRAGMA application_id = 0x4e464c52; PRAGMA user_version = 4;
			INSERT INTO setups (antenna, placement) VALUES ('whip', 'study');
			INSERT INTO surveys (kind, simulated, site, locator, mains_hz, surroundings, plan, receiver, seed, version, start_ms, ending)
				VALUES ('record', 0, '', '', 50, '', 'another', 'a dongle', 1, '', 0, '');
			WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < %d)
				INSERT INTO sweeps (survey, round, visit, setup, start_ms) SELECT 1, 1, 1, 1, i * 1000 FROM n;
			PRAGMA journal_mode = WAL`, olderSweeps))
		if err != nil {
			t.Fatal(err)
		}
	})
	return path
}

// killings are the ways to be killed.
var killings = []struct {
	name string
	does func(t *testing.T, k *killLoop)
}{
	{"while it begins", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(*doomed) { k.pause(80) })
	}},
	{"while it opens the database", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(d *doomed) { d.until(k.changes("")); k.pause(3) })
	}},
	{"in its first sweep", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(d *doomed) { d.until(func() bool { return d.said.Load() > 0 }); k.pause(60) })
	}},
	{"in a later sweep", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(d *doomed) { d.sweeps(1 + k.rng.IntN(12)); k.pause(30) })
	}},
	{"just as it reports one", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(d *doomed) { d.last.Store(1 + k.rng.Int64N(7)); <-d.gone })
	}},
	{"in a transaction", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(d *doomed) { d.sweeps(1 + k.rng.IntN(7)); d.until(k.changes("-wal")); k.pause(3) })
	}},
	{"while the log is written back", func(t *testing.T, k *killLoop) {
		k.kill(t, k.recording(), func(d *doomed) { d.sweeps(2); d.until(k.changes("")); k.pause(2) })
	}},
	{"while a note is made beside it", func(t *testing.T, k *killLoop) { k.killWithNote(t) }},
	{"while it imports instead", func(t *testing.T, k *killLoop) { k.killImport(t) }},
	{"while it makes a database", func(t *testing.T, k *killLoop) { k.killNew(t, "", 0) }},
	{"while it brings an older database up to date", func(t *testing.T, k *killLoop) { k.killNew(t, k.older, olderSweeps) }},
}

func (k *killLoop) recording() *exec.Cmd {
	return k.command("record", "--verbose", "--plan", k.plan, "--db", k.database)
}

// pause waits for up to so many milliseconds.
func (k *killLoop) pause(most int) {
	time.Sleep(time.Duration(k.rng.Int64N(int64(most) * int64(time.Millisecond))))
}

// changes tells whether a file of the database, told by its suffix, is another than now.
func (k *killLoop) changes(suffix string) func() bool {
	now := func() string {
		info, err := os.Stat(k.database + suffix)
		if err != nil {
			return ""
		}
		return fmt.Sprint(info.Size(), info.ModTime())
	}
	var before string
	first := true
	return func() bool {
		if first {
			before, first = now(), false
		}
		return now() != before
	}
}

// A doomed process works until it is killed.
type doomed struct {
	said   atomic.Int64 // lines
	stored atomic.Int64 // sweeps that it reported
	last   atomic.Int64 // with that one it is killed as it reports it; 0: none
	gone   chan struct{}
}

// until waits for what is to be, or for the end.
func (d *doomed) until(is func() bool) {
	for !is() {
		select {
		case <-d.gone:
			return
		case <-time.After(100 * time.Microsecond):
		}
	}
}

// sweeps waits for so many to be reported.
func (d *doomed) sweeps(n int) { d.until(func() bool { return d.stored.Load() >= int64(n) }) }

// kill starts a command, lets moment wait for the moment, and kills it. What it reported stored
// is kept.
func (k *killLoop) kill(t *testing.T, cmd *exec.Cmd, moment func(d *doomed)) {
	t.Helper()
	pipe, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	d := &doomed{gone: make(chan struct{})}
	var lines []string
	go func() {
		defer close(d.gone)
		for said := bufio.NewReader(pipe); ; {
			line, err := said.ReadString('\n') // cut short it is no report
			if err != nil {
				return
			}
			d.said.Add(1)
			if lines = append(lines, strings.TrimSuffix(line, "\n")); storedLine.MatchString(line) && d.stored.Add(1) == d.last.Load() {
				cmd.Process.Kill()
			}
		}
	}()
	moment(d)
	cmd.Process.Kill()
	<-d.gone
	err = cmd.Wait()
	if k.ended = err == nil; k.ended {
		k.endings++
	} else if cmd.ProcessState.Exited() {
		t.Fatalf("%v\n%s", err, strings.Join(lines, "\n"))
	}
	for _, line := range lines {
		if m := storedLine.FindStringSubmatch(line); m != nil {
			if k.numbers[m[1]] {
				k.twice++
			}
			k.numbers[m[1]], k.reported[strings.TrimPrefix(line, "stored ")] = true, true
		}
	}
}

// killWithNote makes a note while it records, and kills both, or the record alone.
func (k *killLoop) killWithNote(t *testing.T) {
	text := fmt.Sprintf("kettle %d", k.endings+len(k.notes)+k.checks)
	note := k.command("note", text, "--db", k.database)
	k.kill(t, k.recording(), func(d *doomed) {
		d.sweeps(1)
		if err := note.Start(); err != nil {
			t.Error(err)
		}
		if k.pause(200); k.rng.IntN(2) == 0 {
			note.Process.Kill()
		}
	})
	if note.Wait() == nil {
		k.notes[text] = true
	}
}

// killImport kills an import of recordings that are new.
func (k *killLoop) killImport(t *testing.T) {
	iq := make([]byte, 2*fieldRate/20)
	var fresh []string
	for range 4 {
		for i := range iq {
			iq[i] = 117 + byte(k.rng.IntN(22)) // noise
		}
		at := time.Date(2026, 11, 3, 20, 0, len(k.files)+len(fresh), 0, time.UTC)
		fresh = append(fresh, writeSigMF(t, filepath.Join(k.folder, at.Format("150405")), antenna{name: "loop"}, at, iq))
	}
	k.files = append(k.files, fresh...)
	k.kill(t, k.command(append([]string{"import", "--db", k.database}, fresh...)...), func(d *doomed) {
		for range k.rng.IntN(5) {
			d.until(k.changes("-wal"))
		}
		k.pause(10)
	})
}

// killNew kills a record that has just begun with a database of its own, a copy of from or none;
// that opens afterwards and has so many sweeps.
func (k *killLoop) killNew(t *testing.T, from string, has int) {
	t.Helper()
	usual := k.database
	defer func() { k.database = usual }()
	folder := t.TempDir()
	k.database = filepath.Join(folder, "night.db")
	suffix := ""
	if from != "" {
		copyDatabase(t, from, k.database)
		suffix = "-wal"
	}
	k.kill(t, k.command("record", "--plan", k.plan, "--db", k.database), func(d *doomed) { d.until(k.changes(suffix)); k.pause(12) })
	if _, err := os.Stat(k.database); err == nil {
		if db, err := store.OpenReadOnly(t.Context(), k.database); errors.Is(err, store.ErrOlder) {
			k.stillOld++
		} else if err == nil {
			db.Close()
		}
		if sweeps, _, _ := k.sweeps(t); len(sweeps) < has {
			t.Errorf("%d sweeps of an older database, want %d", len(sweeps), has)
		}
	}
}

// look looks into a copy of the database, so that what is there next opens what the kill left.
func (k *killLoop) look(t *testing.T, byCommand bool) {
	t.Helper()
	if _, err := os.Stat(k.database); err != nil {
		return // it was killed before there was any
	}
	folder := t.TempDir()
	left := bench{env: k.env, database: filepath.Join(folder, "left.db")}
	copyDatabase(t, k.database, left.database)
	if byCommand {
		if said, err := left.command("database", "check", "--db", left.database).CombinedOutput(); err != nil {
			t.Errorf("database check: %v: %s", err, said)
		}
		k.commands++
	}
	k.checks++
	sweeps, _, _ := left.sweeps(t)
	there := map[string]bool{}
	for _, s := range sweeps {
		there[fmt.Sprintf("sweep %d round %d %s %s", s.ID, s.Round, s.Setup, s.Start.UTC().Format(time.RFC3339))] = true
	}
	db, err := store.Open(t.Context(), left.database)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range eventsIn(t, db) {
		there[e.Text] = true
	}
	if err := errors.Join(db.Close(), os.RemoveAll(folder)); err != nil {
		t.Fatal(err)
	}
	missing(t, k.reported, there, k.lost)
	missing(t, k.notes, there, k.notesLost)
}

// missing adds what was reported and is not there to lost.
func missing(t *testing.T, reported, there, lost map[string]bool) {
	for what := range reported {
		if !there[what] && !lost[what] {
			t.Errorf("reported stored, and gone: %s", what)
			lost[what] = true
		}
	}
}

// imports brings in what was not imported before its import was killed: each is there once.
func (k *killLoop) imports(t *testing.T) {
	t.Helper()
	if said, err := k.command(append([]string{"import", "--db", k.database}, k.files...)...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	seen := map[time.Time]int{}
	sweeps, surveys, _ := k.sweeps(t)
	for _, s := range sweeps {
		if slices.ContainsFunc(surveys, func(i survey.Survey) bool { return i.ID == s.Survey && i.Kind == survey.KindImport }) {
			seen[s.Start]++
		}
	}
	for at, n := range seen {
		if n != 1 {
			t.Errorf("the recording of %v is stored %d times", at, n)
		}
	}
	if len(seen) != len(k.files) {
		t.Errorf("%d recordings are stored, want %d", len(seen), len(k.files))
	}
}

// wholeRounds wants every survey that was recorded complete, with two sweeps each turn.
func wholeRounds(t *testing.T, sweeps []*survey.Sweep, surveys []survey.Survey, rounds int) {
	t.Helper()
	for _, s := range surveys {
		if s.Kind != survey.KindRecord {
			continue
		}
		turns := map[string]int{}
		for _, sweep := range sweeps {
			if sweep.Survey == s.ID {
				turns[fmt.Sprint(sweep.Round, sweep.Setup)]++
			}
		}
		for turn, n := range turns {
			if n != 2 {
				t.Errorf("%s: %d sweeps, want 2", turn, n)
			}
		}
		if s.Ending != "all rounds done" || len(turns) != 2*rounds {
			t.Errorf("survey %d: %q, %d turns, want %d", s.ID, s.Ending, len(turns), 2*rounds)
		}
	}
}
