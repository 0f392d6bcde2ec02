package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"modernc.org/sqlite"

	"nightfloor/store/handle"
	"nightfloor/store/tally"
	"nightfloor/store/trouble"
	"nightfloor/survey"
)

// copyFile puts the content of one file into another, which keeps its inode. Where it can, another
// process does it: closing a database here would drop the locks that SQLite has on it.
func copyFile(t *testing.T, from, to string) {
	t.Helper()
	if cp, err := exec.LookPath("cp"); err == nil {
		must(t, exec.Command(cp, from, to).Run())
		return
	}
	content, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, content, 0o600); err != nil {
		t.Fatal(err)
	}
}

// must takes an error for a failure of the test itself.
func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// An accident happens to the database under a process that stores.
type accident struct {
	does  func(t *testing.T, path, older string) // older is a copy that has 10 sweeps
	says  string
	saved int    // sweeps of 30 that are in the file beside it afterwards, at least: what memory still holds is chance
	whole bool   // and all that they had
	at    string // behind the path: a whole database afterwards, "none" where there is none
	has   int    // sweeps there
}

const cutShort = "was cut short or overwritten"

var accidents = map[string]accident{
	"removed": {func(t *testing.T, path, _ string) {
		for _, name := range []string{path, path + "-wal", path + "-shm"} {
			must(t, os.Remove(name))
		}
	}, "was removed or moved", 30, true, "none", 0},
	"moved": {func(t *testing.T, path, _ string) { must(t, os.Rename(path, path+".away")) }, "was removed or moved", 30, true, ".away", 30},
	"its folder moved": {func(t *testing.T, path, _ string) {
		must(t, os.Rename(filepath.Dir(path), filepath.Dir(path)+".away"))
	}, "was removed or moved", 30, true, "/../../data.away/night.db", 30},
	"replaced by a copy": {func(t *testing.T, path, older string) { must(t, os.Rename(older, path)) }, "was replaced by another file", 30, true, "", 10},
	"log removed":        {func(t *testing.T, path, _ string) { must(t, os.Remove(path+"-wal")) }, "-wal was removed", 30, true, "", 30},
	"log replaced": {func(t *testing.T, path, _ string) {
		copyFile(t, path+"-wal", path+".copy")
		must(t, os.Rename(path+".copy", path+"-wal"))
	}, "-wal was replaced", 30, true, "", 30},
	"log emptied": {func(t *testing.T, path, _ string) { must(t, os.Truncate(path+"-wal", 0)) }, cutShort, 27, false, "", 27},
	"cut short": {func(t *testing.T, path, _ string) {
		info, err := os.Stat(path)
		must(t, err)
		must(t, os.Truncate(path, info.Size()*3/4))
	}, cutShort, 30, false, "none", 0},
	"emptied":               {func(t *testing.T, path, _ string) { must(t, os.Truncate(path, 0)) }, cutShort, 0, false, "none", 0},
	"restored in its place": {func(t *testing.T, path, older string) { copyFile(t, older, path) }, cutShort, 30, false, "", 10},
	"restored by SQLite":    {restore, cutShort, 27, false, "", 27},
}

// restore puts an older copy into a database as SQLite does it, in a transaction of its own. Until the
// log is written back the database's file stays as it was.
func restore(t *testing.T, path, older string) {
	db, err := handle.Open(handle.URI(path), 1)
	must(t, err)
	conn, err := db.Conn(t.Context())
	must(t, err)
	must(t, conn.Raw(func(raw any) error {
		b, err := raw.(interface {
			NewRestore(string) (*sqlite.Backup, error)
		}).NewRestore(older)
		if err != nil {
			return err
		}
		_, err = b.Step(-1)
		return first(err, b.Finish())
	}))
	must(t, first(conn.Close(), db.Close()))
}

// TestAccidents: whatever happens to the files, no later sweep is called stored, one line says
// what happened and what to do, and what was called stored is in a file beside them as far as
// it can be read.
func TestAccidents(t *testing.T) {
	for name, a := range accidents {
		if testing.Short() && name != "moved" && name != "cut short" && name != "replaced by a copy" {
			continue // the same code runs: with the race detector each takes seconds
		}
		t.Run(name, func(t *testing.T) { a.test(t) })
	}
}

// afterSweeps stores sweeps, a copy being made early on, and writes the log back with some to
// go: some are in the database alone, some in the log alone. What the writer has in memory is
// less than the database.
func afterSweeps(t *testing.T, s *Store, id int64) (n night, older string, stored int) {
	t.Helper()
	do(t, s, "PRAGMA cache_size = 4")
	n, older = night{seeded(), 4, 20, 4000}, filepath.Join(t.TempDir(), "older.db")
	for ; stored < 30; stored++ {
		must(t, s.AddSweep(t.Context(), n.sweep(id, stored)))
		if stored == 9 || stored == 26 {
			s.shrinkLog(t.Context())
		}
		if stored == 9 {
			copyFile(t, s.path, older)
		}
	}
	return n, older, stored
}

func (a accident) test(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "data")
	must(t, os.Mkdir(folder, 0o755))
	path := filepath.Join(folder, "night.db")
	s, err := Open(t.Context(), path)
	must(t, err)
	defer s.Close()
	id := begin(t, s)
	must(t, os.Chmod(path, 0o600))
	n, older, stored := afterSweeps(t, s, id)
	var saving []string
	s.Saving = func(happened string) { saving = append(saving, happened) }
	a.does(t, s.path, older)
	sweep := n.sweep(id, stored)
	err = s.AddSweep(t.Context(), sweep)
	if !isErr(err, ErrLost) || sweep.ID != 0 || !strings.Contains(err.Error(), a.says) || strings.Contains(err.Error(), "\n") {
		t.Fatalf("%v, sweep %d; want ErrLost, %q", err, sweep.ID, a.says)
	}
	if len(saving) != 1 || !strings.Contains(saving[0], a.says) {
		t.Errorf("while it is saved: %q, want %q once", saving, a.says)
	}
	t.Log(err)
	if again := s.EndSurvey(t.Context(), id, evening, ""); !isErr(again, ErrLost) {
		t.Errorf("afterwards: %v, want ErrLost", again)
	}
	must(t, s.Close())
	found, err := filepath.Glob(filepath.Join(folder, "night-rescued-*.db*"))
	if err != nil || len(found) != 1 || !strings.Contains(s.lost.Error(), found[0]) {
		t.Fatalf("rescued %v, %v; want one, named in %v", found, err, s.lost)
	}
	if info, err := os.Stat(found[0]); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v, want the permissions of the database", info.Mode(), err)
	}
	got, said := sweepsIn(t, found[0]), s.lost.Error()
	all, some := fmt.Sprintf("all of it, with the %d sweeps", stored), fmt.Sprintf("%d of the %d sweeps", got, stored)
	tellsAll, tellsSome := strings.Contains(said, all), strings.Contains(said, some)
	if got < a.saved || a.whole && !tellsAll || tellsAll && got != stored || tellsAll == tellsSome {
		t.Errorf("%d of %d sweeps rescued, want %d or more, and that said: %v", got, stored, a.saved, said)
	}
	if a.at != "none" {
		// A copy: this process, unlike the next, still has the files open.
		there, alone := filepath.Clean(path+a.at), filepath.Join(t.TempDir(), "alone.db")
		copyFile(t, there, alone)
		if got := sweepsIn(t, alone); got != a.has {
			t.Errorf("%d sweeps at the path, want %d", got, a.has)
		}
		if log, err := os.Stat(there + "-wal"); err == nil && log.Size() > 0 {
			t.Errorf("a log of %d bytes is left for who opens it next", log.Size())
		}
	}
}

// sweepsIn counts the sweeps of a database, which must be whole.
func sweepsIn(t *testing.T, path string) int {
	t.Helper()
	s, err := Open(t.Context(), path)
	must(t, err)
	defer s.Close()
	must(t, s.Check(t.Context()))
	return len(all(t, s, Filter{}))
}

// TestAccidentMeanwhile: what is put onto the disk while the files are taken away is not called stored.
func TestAccidentMeanwhile(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("open files cannot be moved")
	}
	s := openTemp(t)
	id := begin(t, s)
	err := s.write(t.Context(), "store event", func(c change) error {
		_, err := c.add("events", eventColumns(&survey.Event{Survey: id, At: evening, Text: "kettle"}))
		return first(err, os.Rename(s.path, s.path+".away"))
	})
	if !isErr(err, ErrLost) || !strings.Contains(err.Error(), "was removed or moved") {
		t.Errorf("%v, want ErrLost", err)
	}
}

// TestInterrupted: who stops the program hears that, and not what SQLite makes of it.
func TestInterrupted(t *testing.T) {
	s := openTemp(t)
	ctx, cancel := context.WithCancel(t.Context())
	err := s.write(ctx, "store nothing", func(c change) error {
		cancel()
		time.Sleep(50 * time.Millisecond) // the transaction is taken back
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want that it was interrupted", err)
	}
	begin(t, s)
}

// TestLogIsWrittenBack: the log does not grow all night.
func TestLogIsWrittenBack(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	for range 40 {
		must(t, s.AddEvent(t.Context(), survey.Event{Survey: id, At: evening, Text: strings.Repeat("kettle ", 1<<16)}))
	}
	if info, err := os.Stat(s.path + "-wal"); err != nil || info.Size() > 8<<20 {
		t.Errorf("%d bytes of 19 MB are in the log, %v", info.Size(), err)
	}
}

// TestOthersAtWork: what other programs may do beside a record is no accident.
func TestOthersAtWork(t *testing.T) {
	foreign := func(t *testing.T, path string, statements ...string) {
		db, err := handle.Open(handle.URI(path), 1)
		must(t, err)
		for _, statement := range statements {
			_, err := db.ExecContext(t.Context(), statement)
			must(t, err)
		}
		must(t, db.Close())
	}
	for name, does := range map[string]func(t *testing.T, path string, id int64){
		"note": func(t *testing.T, path string, id int64) {
			s, err := Open(t.Context(), path)
			must(t, err)
			must(t, s.AddEvent(t.Context(), survey.Event{Survey: id, At: evening, Text: "kettle"}))
			must(t, s.Close())
		},
		"import": func(t *testing.T, path string, _ int64) {
			s, err := Open(t.Context(), path)
			must(t, err)
			id, _, err := s.ImportSurvey(t.Context(), "", "test")
			must(t, err)
			must(t, s.AddImported(t.Context(), night{seeded(), 4, 20, 4000}.sweep(id, 0), survey.Recording{Digest: "a"}))
			must(t, s.Close())
		},
		"log written back": func(t *testing.T, path string, _ int64) { foreign(t, path, "PRAGMA wal_checkpoint(TRUNCATE)") },
		"made smaller": func(t *testing.T, path string, _ int64) {
			foreign(t, path, "CREATE TABLE more AS SELECT zeroblob(1000000) AS x", "PRAGMA wal_checkpoint(TRUNCATE)", "DROP TABLE more", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)")
		},
		"touched": func(t *testing.T, path string, _ int64) { must(t, os.Chtimes(path, evening, evening)) },
	} {
		t.Run(name, func(t *testing.T) {
			s := openTemp(t)
			id := begin(t, s)
			n, _, stored := afterSweeps(t, s, id)
			reading := s.guard.stored.own[0][0]
			does(t, s.path, id)
			must(t, s.AddSweep(t.Context(), n.sweep(id, stored)))
			must(t, s.AddCarriers(t.Context(), map[int64][]survey.Carrier{reading: {{Frequency: 1, Power: 1}, {Frequency: 1, Power: 2}}}))
			must(t, s.AddFindings(t.Context(), map[int64][]survey.Finding{reading: {{Kind: survey.FindingComb, Spacing: 1}}}))
			must(t, os.Chtimes(s.path, evening, evening)) // asks for all rows again
			must(t, s.AddSweep(t.Context(), n.sweep(id, stored+1)))
			must(t, s.Check(t.Context()))
			var own tally.Spans
			for _, sweep := range all(t, s, Filter{Survey: id}) {
				for i := range sweep.Readings {
					own = own.With(sweep.Readings[i].ID, sweep.Readings[i].ID)
				}
			}
			if got := s.guard.stored.own; !slices.Equal(got, own) {
				t.Errorf("readings %d, want %d", got, own)
			}
			must(t, s.EndSurvey(t.Context(), id, evening, ""))
		})
	}
}

// noteEnv makes the test program note an event in that database, as another process.
const noteEnv = "NIGHTFLOOR_TEST_NOTE_DB"

func noteEvent(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	return first(s.AddEvent(ctx, survey.Event{Survey: 1, At: evening, Text: "kettle"}), s.Close())
}

// TestIndexOfLogGone: who opens the database once the shared index of its log is gone sees nothing
// of what the process does that has it open. That process notices, and nothing is lost of what
// either stored.
func TestIndexOfLogGone(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("open files cannot be removed")
	}
	for _, test := range []struct {
		remove  []string
		noted   bool
		says    string
		rescued int // sweeps; 0: no file is beside it
	}{
		{[]string{"-shm"}, false, "-shm was removed", 0},
		{[]string{"-shm"}, true, "-shm was replaced by another file", 0},
		{[]string{"-shm", "-wal"}, false, "-wal was removed", 30},
		{[]string{"-shm", "-wal"}, true, "-wal was replaced by another file", 30},
	} {
		if testing.Short() && !test.noted {
			continue
		}
		t.Run(fmt.Sprint(test.remove, test.noted), func(t *testing.T) {
			s := openTemp(t)
			id := begin(t, s)
			n, _, stored := afterSweeps(t, s, id)
			for _, suffix := range test.remove {
				must(t, os.Remove(s.path+suffix))
			}
			if test.noted {
				note := exec.Command(os.Args[0])
				note.Env = append(os.Environ(), noteEnv+"="+s.path)
				if out, err := note.CombinedOutput(); err != nil {
					t.Fatalf("%v: %s", err, out)
				}
			}
			err := s.AddSweep(t.Context(), n.sweep(id, stored))
			if !isErr(err, ErrLost) || !strings.Contains(err.Error(), test.says) {
				t.Fatalf("%v, want ErrLost, %q", err, test.says)
			}
			if test.rescued == 0 && !strings.Contains(err.Error(), "holds all of it, with the 30 sweeps") {
				t.Errorf("%v", err)
			}
			must(t, s.Close())
			found, err := filepath.Glob(filepath.Join(filepath.Dir(s.path), "night-rescued-*"))
			must(t, err)
			if rescued := test.rescued > 0; len(found) != map[bool]int{true: 1}[rescued] || rescued && sweepsIn(t, found[0]) != test.rescued {
				t.Errorf("rescued %v, want %d sweeps", found, test.rescued)
			}
			// Copies: this process still has the files open.
			alone := filepath.Join(t.TempDir(), "alone.db")
			copyFile(t, s.path, alone)
			if _, err := os.Stat(s.path + "-wal"); err == nil {
				copyFile(t, s.path+"-wal", alone+"-wal")
			}
			if got := sweepsIn(t, alone); test.rescued == 0 && got != stored {
				t.Errorf("%d sweeps in the database, want %d", got, stored)
			}
			copied, err := Open(t.Context(), alone)
			must(t, err)
			defer copied.Close()
			if events, err := copied.Events(t.Context(), 0); err != nil || len(events) != map[bool]int{true: 1}[test.noted] {
				t.Errorf("%d events, %v, want what was noted", len(events), err)
			}
		})
	}
}

// TestIndexGoneAndRestored: a database that was overwritten besides is not said to hold all of it.
func TestIndexGoneAndRestored(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("open files cannot be removed")
	}
	s := openTemp(t)
	id := begin(t, s)
	n, older, stored := afterSweeps(t, s, id)
	copyFile(t, older, s.path)
	must(t, os.Remove(s.path+"-shm"))
	err := s.AddSweep(t.Context(), n.sweep(id, stored))
	if !isErr(err, ErrLost) || strings.Contains(err.Error(), "holds all of it") || !strings.Contains(err.Error(), "-rescued-") {
		t.Errorf("%v", err)
	}
	must(t, s.Close())
	found, err := filepath.Glob(filepath.Join(filepath.Dir(s.path), "night-rescued-*.db"))
	if err != nil || len(found) != 1 || sweepsIn(t, found[0]) < 10 {
		t.Errorf("rescued %v, %v; %v", found, err, s.lost)
	}
}

// TestRestoredBeforeTheLog: an older copy is put in the database's place, and this process then
// writes its log back onto it.
func TestRestoredBeforeTheLog(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n, older, stored := afterSweeps(t, s, id)
	copyFile(t, older, s.path)
	s.shrinkLog(t.Context())
	err := s.AddSweep(t.Context(), n.sweep(id, stored))
	if !isErr(err, ErrLost) || !strings.Contains(err.Error(), cutShort) {
		t.Errorf("%v, want ErrLost, %q", err, cutShort)
	}
}

// TestOverwrittenBeforeTheFirstSweep: also who has stored no sweep yet notices what is no database any more.
func TestOverwrittenBeforeTheFirstSweep(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	s.shrinkLog(t.Context())
	info, err := os.Stat(s.path)
	must(t, err)
	file, err := os.OpenFile(s.path, os.O_WRONLY, 0)
	must(t, err)
	_, err = file.WriteAt(make([]byte, info.Size()), 0)
	must(t, first(err, file.Close(), os.Chtimes(s.path, evening, evening)))
	err = s.AddSweep(t.Context(), night{seeded(), 4, 20, 4000}.sweep(id, 0))
	if !isErr(err, ErrLost) || !strings.Contains(err.Error(), cutShort) {
		t.Errorf("%v, want ErrLost, %q", err, cutShort)
	}
}

// TestMovedAndNotCopied: where no copy can be made of a database that was moved it is said to be
// whole, and where it is.
func TestMovedAndNotCopied(t *testing.T) {
	if _, err := os.Stat("/proc/self/fd"); err != nil {
		t.Skip("the system does not tell where an open file is")
	}
	folder := filepath.Join(t.TempDir(), "data")
	must(t, os.Mkdir(folder, 0o755))
	s, err := Open(t.Context(), filepath.Join(folder, "night.db"))
	must(t, err)
	defer s.Close()
	id := begin(t, s)
	n, _, stored := afterSweeps(t, s, id)
	must(t, os.Rename(folder, folder+".away"))
	must(t, os.Symlink("nowhere", folder))
	err = s.AddSweep(t.Context(), n.sweep(id, stored))
	if want := "it is whole, with the 30 sweeps that this process stored, and is now " + folder + ".away/night.db; move it to " + s.path; !isErr(err, ErrLost) || !strings.Contains(err.Error(), want) {
		t.Errorf("%v, want %q", err, want)
	}
	alone := filepath.Join(t.TempDir(), "alone.db")
	copyFile(t, folder+".away/night.db", alone)
	if got := sweepsIn(t, alone); got != stored {
		t.Errorf("%d sweeps, want %d", got, stored)
	}
}

// TestAccidentsOfImports: imports are told the same way, also once their recordings have their turns.
func TestAccidentsOfImports(t *testing.T) {
	for name, does := range map[string]func(t *testing.T, path, older string){
		"was replaced by another file": func(t *testing.T, path, older string) { must(t, os.Rename(older, path)) },
		cutShort:                       func(t *testing.T, path, older string) { copyFile(t, older, path) },
	} {
		s := openTemp(t)
		id, _, err := s.ImportSurvey(t.Context(), "", "test")
		must(t, err)
		n, older, turns := night{seeded(), 2, 5, 2000}, filepath.Join(t.TempDir(), "older.db"), map[int64]survey.Turn{}
		add := func(i int) error {
			turns[int64(i+1)] = survey.Turn{Sweep: i / 2, Visit: i/2 + 1, Round: 1}
			return s.AddImported(t.Context(), n.sweep(id, i), survey.Recording{Digest: fmt.Sprint(i)})
		}
		for i := range 20 {
			must(t, add(i))
			if i == 9 {
				s.shrinkLog(t.Context())
				copyFile(t, s.path, older)
			}
		}
		must(t, s.Regroup(t.Context(), id, turns))
		s.shrinkLog(t.Context())
		does(t, s.path, older)
		if err := add(20); !isErr(err, ErrLost) || !strings.Contains(err.Error(), name) || !strings.Contains(err.Error(), "the 10 sweeps that this process stored") {
			t.Errorf("%v, want %q and 10 sweeps", err, name)
		}
	}
}

// TestWholeLookAtTheEnd: a page that was overwritten, and is not among what is looked at after each
// foreign change, is told at the survey's end.
func TestWholeLookAtTheEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("it stores for seconds")
	}
	s := openTemp(t)
	id := begin(t, s)
	n := night{seeded(), 4, 20, 2000}
	for i := range 100 {
		must(t, s.AddSweep(t.Context(), n.sweep(id, i)))
	}
	s.shrinkLog(t.Context())
	must(t, s.AddSweep(t.Context(), n.sweep(id, 100)))
	var page int64 // of spectra between those that are looked at
	must(t, s.reader.QueryRow(`SELECT pageno FROM dbstat WHERE name = 'spectra' AND pagetype = 'leaf' ORDER BY path LIMIT 1 OFFSET 5`).Scan(&page))
	file, err := os.OpenFile(s.path, os.O_WRONLY, 0)
	must(t, err)
	_, err = file.WriteAt(make([]byte, 32768), (page-1)*32768)
	must(t, first(err, file.Close()))
	must(t, os.Chtimes(s.path, evening, evening))
	must(t, s.AddSweep(t.Context(), n.sweep(id, 101)))
	if err := s.EndSurvey(t.Context(), id, evening, ""); !isErr(err, ErrLost) || !strings.Contains(err.Error(), cutShort) {
		t.Errorf("%v, want ErrLost, %q", err, cutShort)
	}
}

// TestLooksEndInTime: nobody waits long for a survey to begin or to end, however large the database.
func TestLooksEndInTime(t *testing.T) {
	defer func(was time.Duration) { lookTime = was }(lookTime)
	s := openTemp(t)
	id := begin(t, s)
	must(t, s.AddSweep(t.Context(), night{seeded(), 4, 20, 2000}.sweep(id, 0)))
	do(t, s, "DELETE FROM spectra; PRAGMA writable_schema = on; UPDATE sqlite_schema SET rootpage = (SELECT rootpage FROM sqlite_schema WHERE name = 'calibrations') WHERE name = 'gaps'; PRAGMA writable_schema = reset")
	if err := s.Sound(t.Context()); !isErr(err, ErrDamaged) {
		t.Errorf("%v, want ErrDamaged", err)
	}
	lookTime = 0
	s.guard.partly = true
	must(t, s.Sound(t.Context()))
	must(t, s.EndSurvey(t.Context(), id, evening, ""))
}

// TestWorking: who waits for something to be stored, or saved, hears all the while that it goes on.
func TestWorking(t *testing.T) {
	s := openTemp(t)
	told := make(chan struct{})
	s.Working = func() {
		select {
		case told <- struct{}{}:
		case <-t.Context().Done():
		}
	}
	must(t, s.write(t.Context(), "wait", func(change) error {
		for range 3 {
			<-told
		}
		return nil
	}))
	select {
	case <-told: // the last, which was under way
	case <-time.After(100 * time.Millisecond):
	}
	select {
	case <-told:
		t.Error("told when nothing goes on any more")
	case <-time.After(300 * time.Millisecond):
	}
}

// TestLookInto: both looks take what was stored for sound, and what is missing, or another, for damage;
// what is not told of the last sweep by some of it is told by all.
func TestLookInto(t *testing.T) {
	if testing.Short() {
		t.Skip("it stores for seconds")
	}
	for statement, want := range map[string]struct{ some, all bool }{
		"PRAGMA user_version": {false, false},
		"DELETE FROM carriers WHERE reading = (SELECT max(id) FROM readings)":                           {true, true},
		"DELETE FROM sweeps WHERE id = (SELECT max(id) FROM sweeps)":                                    {true, true},
		"DELETE FROM spectra WHERE reading = 7":                                                         {false, true},
		"UPDATE carriers SET power = 2 * power WHERE reading = (SELECT max(id) FROM readings)":          {true, false},
		"INSERT INTO events SELECT NULL, id, 1, 'kettle', 0 FROM surveys":                               {false, false},
		"INSERT INTO sweeps (survey, round, visit, setup, start_ms) SELECT id, 1, 1, 1, 1 FROM surveys": {false, false},
		"DROP TABLE findings": {true, true},
	} {
		s := openTemp(t)
		id := begin(t, s)
		n := night{seeded(), 4, 5, 100}
		for i := range 10 {
			must(t, s.AddSweep(t.Context(), n.sweep(id, i)))
		}
		do(t, s, statement)
		some, all := lookIntoSome(t.Context(), s.path, s.guard.stored.own, 0), lookIntoAll(t.Context(), s.path, s.guard.stored)
		if (some != nil) != want.some || (all != nil) != want.all || all != nil && !trouble.OfContent(all) {
			t.Errorf("%s: %v, %v", statement, some, all)
		}
	}
}
