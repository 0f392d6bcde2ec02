package store

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/store/files"
	"nightfloor/store/handle"
	"nightfloor/store/schema"
	"nightfloor/survey"
)

// TestOddPaths: characters that mean something in a URI are only characters.
func TestOddPaths(t *testing.T) {
	for _, name := range []string{"plain.db", "what?mode=memory&x=1.db", "50%25 #1.db", "nächt liche Messung.db", "a&_foreign_keys=off.db"} {
		path := filepath.Join(t.TempDir(), name)
		s, err := Open(t.Context(), path)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		begin(t, s)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(path); err != nil {
			t.Errorf("%s: not where it should be: %v", name, err)
		}
		read, err := OpenReadOnly(t.Context(), path)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if surveys, err := read.Surveys(t.Context()); err != nil || len(surveys) != 1 {
			t.Errorf("%s: %d surveys, %v, want 1", name, len(surveys), err)
		}
		if err := read.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestConnections: what the design asks of every connection.
func TestConnections(t *testing.T) {
	s := openTemp(t)
	for name, db := range map[string]*sql.DB{"writer": s.writer, "reader": s.reader} {
		for pragma, want := range map[string]string{"foreign_keys": "1", "busy_timeout": "5000", "journal_mode": "wal", "page_size": handle.PageSize} {
			var got string
			if err := db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
				t.Errorf("%s: %s is %s, %v, want %s", name, pragma, got, err, want)
			}
		}
	}
	var synchronous int
	if err := s.writer.QueryRow("PRAGMA synchronous").Scan(&synchronous); err != nil || synchronous != 2 {
		t.Errorf("synchronous is %d, %v, want 2, FULL", synchronous, err)
	}
	if _, err := s.reader.Exec("DELETE FROM surveys"); err == nil {
		t.Error("a reader can write")
	}
	if _, err := s.writer.Exec("INSERT INTO gaps (survey, from_ms, to_ms, why) VALUES (7, 0, 0, '')"); err == nil {
		t.Error("a gap of no survey was stored: foreign keys are off")
	}
}

// TestCutWhileMade: what a power cut leaves of a database whose first transaction was under way, a
// file that was half written and SQLite's journal of it, becomes a database.
func TestCutWhileMade(t *testing.T) {
	folder := t.TempDir()
	half, path := filepath.Join(folder, "half.db"), filepath.Join(folder, "night.db")
	db, err := handle.Open(handle.URI(half), 1)
	must(t, err)
	for _, statement := range []string{"PRAGMA cache_size = 1", "BEGIN", "CREATE TABLE half AS SELECT zeroblob(1000000)"} {
		_, err := db.Exec(statement)
		must(t, err)
	}
	copyFile(t, half, path)
	copyFile(t, half+"-journal", path+"-journal")
	must(t, db.Close())
	s, err := Open(t.Context(), path)
	must(t, err)
	begin(t, s)
	must(t, s.Check(t.Context()))
	must(t, s.Close())
}

// foreign makes files that are not for us, each of one kind.
func foreign(t *testing.T, statements string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "other.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(statements); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func file(t *testing.T, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file.db")
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestRefusals: files that are not ours are refused by name, and left as they
// are to the last bit.
func TestRefusals(t *testing.T) {
	for name, test := range map[string]struct {
		path string
		want error
	}{
		"text":            {file(t, bytes.Repeat([]byte("not a database\n"), 500)), ErrNotOurs},
		"another program": {foreign(t, "CREATE TABLE birds (name TEXT); INSERT INTO birds VALUES ('owl')"), ErrNotOurs},
		"another number":  {foreign(t, "PRAGMA application_id = 7"), ErrNotOurs},
		"newer":           {foreign(t, "PRAGMA application_id = 0x4e464c52; PRAGMA user_version = 99; CREATE TABLE surveys (x)"), ErrNewer},
		"no version":      {foreign(t, "PRAGMA application_id = 0x4e464c52; CREATE TABLE surveys (x)"), ErrDamaged},
		"folder":          {t.TempDir(), ErrNotOurs},
		"no folder":       {filepath.Join(t.TempDir(), "not", "there.db"), ErrAccess},
	} {
		before, _ := os.ReadFile(test.path) // nothing for what is no file
		for how, err := range map[string]error{"write": errOf(Open(t.Context(), test.path)), "read": errOf(OpenReadOnly(t.Context(), test.path))} {
			if !isErr(err, test.want) {
				t.Errorf("%s, open to %s: %v; want %v", name, how, err, test.want)
			}
		}
		after, _ := os.ReadFile(test.path)
		if sha256.Sum256(before) != sha256.Sum256(after) {
			t.Errorf("%s: the file was changed", name)
		}
	}
	if err := errOf(OpenReadOnly(t.Context(), filepath.Join(t.TempDir(), "none.db"))); !isErr(err, ErrAccess) {
		t.Errorf("nothing there: %v, want ErrAccess", err)
	}
	if err := errOf(OpenReadOnly(t.Context(), file(t, nil))); !isErr(err, ErrNotOurs) {
		t.Errorf("empty file: %v, want ErrNotOurs", err)
	}
}

// What is no database is told as what it is, and a file too short for one is not taken for an
// empty one.
func TestRefusedAsWhatItIs(t *testing.T) {
	for path, want := range map[string]string{
		file(t, []byte("x")):                   "1 byte, too short to be a database; name another file",
		file(t, bytes.Repeat([]byte("x"), 99)): "99 bytes, too short to be a database",
		os.DevNull:                             "a device, not a file; name a file",
		t.TempDir():                            "a folder, not a file; name a file in it",
	} {
		before, _ := os.ReadFile(path) // nothing for what is no file
		for how, err := range map[string]error{"write": errOf(Open(t.Context(), path)), "read": errOf(OpenReadOnly(t.Context(), path))} {
			if !isErr(err, ErrNotOurs) || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "another program") {
				t.Errorf("open %s to %s: %v; want %s", path, how, err, want)
			}
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", path)
		}
	}
}

func errOf(_ *Store, err error) error { return err }

// TestEmptyFileBecomesDatabase: so do files made by mktemp.
func TestEmptyFileBecomesDatabase(t *testing.T) {
	s, err := Open(t.Context(), file(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	begin(t, s)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestDamage: Check finds a page overwritten, a row without its parent and a
// spectrum that cannot be read.
func TestDamage(t *testing.T) {
	for name, harm := range map[string]func(t *testing.T, s *Store){
		"pages": func(t *testing.T, s *Store) {
			sizeOf(t, s) // writes the log back
			f, err := os.OpenFile(s.path, os.O_WRONLY, 0)
			if err != nil {
				t.Fatal(err)
			}
			info, err := f.Stat()
			if err != nil {
				t.Fatal(err)
			}
			// All but the first page, which holds the schema.
			const page = 32768
			if _, err := f.WriteAt(bytes.Repeat([]byte{0xa5}, int(info.Size())-page), page); err != nil {
				t.Fatal(err)
			}
			if err := f.Close(); err != nil {
				t.Fatal(err)
			}
		},
		"orphan":   func(t *testing.T, s *Store) { do(t, s, "PRAGMA foreign_keys = off; DELETE FROM sweeps") },
		"spectrum": func(t *testing.T, s *Store) { do(t, s, "UPDATE spectra SET density = x'0164'") },
	} {
		s := openTemp(t)
		id := begin(t, s)
		if err := s.AddSweep(t.Context(), night{seeded(), 2, 3, 100}.sweep(id, 0)); err != nil {
			t.Fatal(err)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Errorf("%s, before: %v", name, err)
		}
		harm(t, s)
		err := s.Check(t.Context())
		if !isErr(err, ErrDamaged) {
			t.Errorf("%s: %v, want ErrDamaged", name, err)
		}
		t.Log(err)
	}
}

func do(t *testing.T, s *Store, statements string) {
	t.Helper()
	if _, err := s.writer.Exec(statements); err != nil {
		t.Fatal(err)
	}
}

// TestCheckLooksAtTheNumber of the schema again: another program may have changed it.
func TestCheckLooksAtTheNumber(t *testing.T) {
	for pragma, want := range map[string]error{"user_version = 99": ErrNewer, "user_version = 0": ErrDamaged, "application_id = 7": ErrNotOurs} {
		s := openTemp(t)
		do(t, s, "PRAGMA "+pragma)
		if err := s.Check(t.Context()); !isErr(err, want) {
			t.Errorf("%s: %v, want %v", pragma, err, want)
		}
	}
}

// TestFullDisk: SQLite itself says that it is full, at a limit of its own; what
// was stored stays, and with room again the work goes on.
func TestFullDisk(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	do(t, s, "PRAGMA max_page_count = 40")
	n, stored := night{seeded(), 4, 20, 2000}, 0
	var err error
	var refused *survey.Sweep
	for err == nil && stored < 1000 {
		refused = n.sweep(id, stored)
		if err = s.AddSweep(t.Context(), refused); err == nil {
			stored++
		}
	}
	if !isErr(err, ErrFull) || refused.ID != 0 {
		t.Fatalf("after %d sweeps: %v, want ErrFull and no number", stored, err)
	}
	t.Log(err)
	if got := len(all(t, s, Filter{})); got != stored {
		t.Errorf("%d sweeps, want %d", got, stored)
	}
	do(t, s, "PRAGMA max_page_count = 100000")
	if err := s.AddSweep(t.Context(), refused); err != nil {
		t.Error(err)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestReadOnlyFolder needs a person's rights: root may write anywhere.
func TestReadOnlyFolder(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("as root nothing is read-only")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "archive.db")
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	begin(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Chmod(dir, 0o755) }) // for the folder's removal
	read, err := OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if surveys, err := read.Surveys(t.Context()); err != nil || len(surveys) != 1 {
		t.Errorf("%d surveys, %v, want 1", len(surveys), err)
	}
	if err := read.Close(); err != nil {
		t.Error(err)
	}
	for _, p := range []string{path, filepath.Join(dir, "new.db")} {
		err := errOf(Open(t.Context(), p))
		if !isErr(err, ErrAccess) && !isErr(err, ErrReadOnly) {
			t.Errorf("%s: %v, want ErrAccess or ErrReadOnly", p, err)
		}
		t.Log(err)
	}
}

// TestReadOnlyStore: methods that write say that they cannot.
func TestReadOnlyStore(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	read, err := OpenReadOnly(t.Context(), s.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	if err := read.AddSweep(t.Context(), night{rng: seeded()}.sweep(id, 0)); !isErr(err, ErrReadOnly) {
		t.Errorf("%v, want ErrReadOnly", err)
	}
	if _, err := read.LockWriter(evening); !isErr(err, ErrReadOnly) {
		t.Errorf("%v, want ErrReadOnly", err)
	}
}

// TestDefaultPath follows NIGHTFLOOR_DB, then XDG; Open makes the folder.
func TestDefaultPath(t *testing.T) {
	home := t.TempDir()
	t.Setenv("NIGHTFLOOR_DB", "")
	t.Setenv("HOME", home)
	t.Setenv("XDG_DATA_HOME", "relative/is/ignored")
	path, err := files.DefaultPath()
	if want := filepath.Join(home, ".local/share/nightfloor/nightfloor.db"); err != nil || path != want {
		t.Errorf("%s, %v, want %s", path, err, want)
	}
	t.Setenv("XDG_DATA_HOME", filepath.Join(home, "data"))
	path, err = files.DefaultPath()
	if want := filepath.Join(home, "data/nightfloor/nightfloor.db"); err != nil || path != want {
		t.Errorf("%s, %v, want %s", path, err, want)
	}
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	t.Setenv("NIGHTFLOOR_DB", "mine.db")
	if path, err := files.DefaultPath(); err != nil || path != "mine.db" {
		t.Errorf("%s, %v, want mine.db", path, err)
	}
}

// TestMigration: an older database is brought up to date in one go, or, when a
// step fails, left as it was.
func TestMigration(t *testing.T) {
	old := []string{"CREATE TABLE a (x) STRICT" /* no type: fails */}
	path := foreign(t, "PRAGMA user_version = 0")
	db, err := handle.Open(handle.WriterDSN(path), 1)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	s := &Store{path: path, writer: db}
	if err := s.migrate(t.Context(), old); err == nil {
		t.Error("a wrong step passed")
	}
	if h, err := schema.ReadHeader(t.Context(), db); err != nil || h != (schema.Header{}) {
		t.Errorf("%+v, %v: want a file as it was", h, err)
	}
	one := []string{"CREATE TABLE a (x INTEGER) STRICT; INSERT INTO a VALUES (1)"}
	two := append(one, "ALTER TABLE a ADD COLUMN y INTEGER; UPDATE a SET y = x + 1")
	bad := append(two, "CREATE TABLE b (z INTEGER) STRICT; DROP TABLE none")
	for _, steps := range [][]string{one, one, two} {
		if err := s.migrate(t.Context(), steps); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.migrate(t.Context(), bad); err == nil {
		t.Error("a wrong step passed")
	}
	var y int
	if err := db.QueryRow("SELECT y FROM a").Scan(&y); err != nil || y != 2 {
		t.Errorf("y is %d, %v, want 2", y, err)
	}
	if h, err := schema.ReadHeader(t.Context(), db); err != nil || h != (schema.Header{Application: schema.ApplicationID, Version: 2, Tables: 1}) {
		t.Errorf("%+v, %v: want schema 2 with 1 table", h, err)
	}
	if err := s.migrate(t.Context(), one); !isErr(err, ErrNewer) {
		t.Errorf("%v, want ErrNewer", err)
	}
	if err := handle.Check(t.Context(), handle.ReaderDSN(path), path); !isErr(err, ErrOlder) {
		t.Errorf("%v, want ErrOlder", err)
	}
}
