// Package store keeps surveys, sweeps and readings in one SQLite file.
//
// In go the types of package survey, out come the same, equal field by field;
// times are kept to the millisecond. One handle writes, one transaction a
// sweep, each on the disk when its method returns; a pool of connections that
// cannot write reads beside it, also from other processes. Every error reads
// "WHAT: WHY; WHAT TO DO" and is one of those in errors.go where SQLite tells
// why. The tables are described in SCHEMA.md for readers without this package.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"nightfloor/survey"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"nightfloor/store/files"
	"nightfloor/store/lock"
	"nightfloor/store/schema"
)

// readers is how many connections may read at one time. A callback of Sweeps
// or Spectra may itself read from the store.
const readers = 8

// A Store is one open database. Its methods may be called from any goroutine.
type Store struct {
	// Working is told, several times a second, that something is being stored, or what can be saved
	// is (ErrLost), which may take minutes. To be set before that; nil: nobody listens.
	Working func()
	// Saving is told what happened before what can be saved is, once. nil: nobody listens.
	Saving func(happened string)

	path   string
	writer *sql.DB // nil: opened for reading
	reader *sql.DB

	diskFull atomic.Bool // the disk was full at the last try

	writing sync.Mutex // held by write
	guard   *guard     // nil: opened for reading, or not open yet; its methods take that
	lost    error      // the files are not this process's own any more
	leave   bool       // and must not be written, not even at the end

	leftOutMutex sync.Mutex
	leftOut      leftOut // by the last read of each table
}

// Open opens the database at path for reading and writing. A file that does
// not exist, or is empty, becomes a database; an older one is brought up to
// date. The folder must exist, but that of DefaultPath is made. A file of
// another kind is left as it is. Errors: ErrLocked where a record writes the file
// under another name, ErrNewer, ErrNotOurs, ErrDamaged, ErrReadOnly, ErrAccess.
func Open(ctx context.Context, path string) (*Store, error) {
	path, err := findFile(ctx, path, true)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path}
	if s.writer, err = openHandle(writerDSN(path), 1); err != nil {
		return nil, err
	}
	if err := s.migrate(ctx, schema.Steps()); err != nil {
		return nil, first(err, s.writer.Close())
	}
	s.shrinkLog(ctx) // the new tables stand in it, and would fill a small disk
	if s.guard, err = newGuard(ctx, path, s.writer); err != nil {
		return nil, first(explain("open database "+path, err), s.writer.Close())
	}
	if s.reader, err = openHandle(readerDSN(path), readers); err != nil {
		return nil, first(err, s.writer.Close())
	}
	return s, nil
}

// OpenReadOnly opens the database at path for reading; methods that write give
// ErrReadOnly. Errors: those of Open, and ErrOlder for a database that Open
// would have to bring up to date first.
func OpenReadOnly(ctx context.Context, path string) (*Store, error) {
	path, err := findFile(ctx, path, false)
	if err != nil {
		return nil, err
	}
	dsn := readerDSN(path)
	err = checkFile(ctx, dsn, path)
	if (errors.Is(err, ErrAccess) || errors.Is(err, ErrReadOnly)) && noWriter(path) {
		dsn = archiveDSN(path)
		err = checkFile(ctx, dsn, path)
	}
	if err != nil {
		return nil, err
	}
	s := &Store{path: path}
	if s.reader, err = openHandle(dsn, readers); err != nil {
		return nil, err
	}
	return s, nil
}

// Path gives the database's absolute path.
func (s *Store) Path() string { return s.path }

// Close ends all connections.
func (s *Store) Close() error {
	err := s.reader.Close()
	if s.writer != nil && !s.leave { // SQLite would write the log into what stands there now
		err = first(err, s.writer.Close())
	}
	return explain("close database "+s.path, err)
}

// leastFile is the length in bytes of what begins every database (sqlite.org/fileformat.html, 1.3).
// SQLite takes a shorter file for an empty one and writes over it.
const leastFile = 100

// findFile gives the absolute path of a database, links followed, so that two
// names of one file share one lock. It never opens the file: closing it would
// drop the locks that SQLite holds in this process (POSIX advisory locks).
func findFile(ctx context.Context, path string, create bool) (string, error) {
	what := "open database " + path
	if path == "" {
		return "", fmt.Errorf("open database: %w: no path; name a file with --db", ErrAccess)
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	if create {
		if err := makeDefaultFolder(full); err != nil {
			return "", fmt.Errorf("%s: %w: %w; name another file with --db", what, ErrAccess, survey.FileTrouble(err))
		}
	}
	if real, err := filepath.EvalSymlinks(full); err == nil {
		full = real
	}
	info, err := os.Stat(full)
	switch {
	case errors.Is(err, fs.ErrNotExist) && create:
		return full, nil
	case errors.Is(err, fs.ErrNotExist):
		return "", fmt.Errorf("%s: %w; record or import makes it, or name another with --db", what, survey.Told("there is no such file", ErrAccess))
	case err != nil:
		return "", fmt.Errorf("%s: %w: %w; check the path", what, ErrAccess, survey.FileTrouble(err))
	case info.IsDir():
		return "", fmt.Errorf("%s: %w: a folder, not a file; name a file in it", what, ErrNotOurs)
	case !info.Mode().IsRegular():
		return "", fmt.Errorf("%s: %w: %s, not a file; name a file", what, ErrNotOurs, survey.FileKind(info.Mode()))
	case info.Size() > 0 && info.Size() < leastFile:
		return "", fmt.Errorf("%s: %w: %s, too short to be a database; name another file", what, ErrNotOurs, survey.Count(int(info.Size()), "byte"))
	case info.Size() > 0 && create:
		if err := lock.Elsewhere(full); err != nil {
			return "", fmt.Errorf("%s: %w", what, err)
		}
		// Asked without writing first: opening for writing would turn
		// another program's database into WAL mode.
		err := checkFile(ctx, readerDSN(full), full)
		if halfMade(err) {
			err = checkFile(ctx, fileURI(full)+"?mode=rw&_busy_timeout=5000", full)
		}
		if !schema.Grows(err) {
			return full, err
		}
	}
	return full, nil
}

// makeDefaultFolder makes the user's data folder if path lies in it.
func makeDefaultFolder(path string) error {
	standard, err := files.DataPath()
	if err != nil || path != standard {
		return nil // without a home there is no default folder to make
	}
	return os.MkdirAll(filepath.Dir(path), 0o755)
}

// noWriter tells whether nobody can be writing the database at path: no
// write-ahead log stands beside it.
func noWriter(path string) bool {
	info, err := os.Stat(path + "-wal")
	return errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0
}

// openHandle gives a handle of at most most connections.
func openHandle(dsn string, most int) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	return db, nil
}

// write runs do in a transaction of the writer and commits it to the disk.
// what says what is being tried, for the error. Nothing is written, and nothing
// called written, while the files are not this process's own (ErrLost).
func (s *Store) write(ctx context.Context, what string, do func(change) error) error {
	if s.writer == nil {
		return fmt.Errorf("%s: %w: opened for reading; open %s for writing", what, ErrReadOnly, s.path)
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	defer s.tellWorking()()
	err := s.intact(ctx)
	if err == nil {
		err = s.makeRoom(ctx)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	if err := s.writeWithRoom(ctx, what, do); err != nil {
		return err
	}
	s.guard.commit()
	if err := s.intact(ctx); errors.Is(err, ErrLost) { // what cannot be told now, the next look tells
		return fmt.Errorf("%s: %w", what, err)
	}
	s.writeBack(ctx)
	return nil
}

// tellWorking tells Working until done is called.
func (s *Store) tellWorking() (done func()) {
	if s.Working == nil {
		return func() {}
	}
	end, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		again := time.NewTicker(200 * time.Millisecond)
		defer again.Stop()
		for {
			s.Working()
			select {
			case <-end:
				return
			case <-again.C:
			}
		}
	}()
	return func() {
		close(end)
		<-ended
	}
}

// writeWithRoom is one try of write, and another with the log written back where the
// disk is full: that frees its room, and into a full disk it could not be written back
// any more.
func (s *Store) writeWithRoom(ctx context.Context, what string, do func(change) error) error {
	err := s.writeOnce(ctx, what, do)
	if !errors.Is(err, ErrFull) || !s.shrinkLog(ctx) {
		return err
	}
	return s.writeOnce(ctx, what, do)
}

// Free space on the disk, in bytes. Below shortLogBelow, thrice the log's usual length, the
// log is kept short. Below refuseBelow, more than a sweep takes, nothing is written until
// acceptFrom is free again: enough for the disk not to be full and not full by turns.
const (
	shortLogBelow = 12 << 20
	refuseBelow   = 384 << 10
	acceptFrom    = 768 << 10
)

// makeRoom keeps the log short on a small disk, and gives ErrFull where there is
// no room all the same.
func (s *Store) makeRoom(ctx context.Context) error {
	free, known := files.Free(s.path)
	if !known || free >= shortLogBelow {
		return nil
	}
	s.shrinkLog(ctx)
	wanted := uint64(refuseBelow)
	if s.diskFull.Load() {
		wanted = acceptFrom
	}
	free, known = files.Free(s.path)
	s.diskFull.Store(known && free < wanted)
	if s.diskFull.Load() {
		return fmt.Errorf("%w: %d kB are left; make room; what was stored before is safe", ErrFull, free>>10)
	}
	return nil
}

// shrinkLog writes the log back and empties it. Where somebody reads, or the
// disk is full, it may not come about, which is no error.
func (s *Store) shrinkLog(ctx context.Context) bool { return s.checkpoint(ctx, "TRUNCATE") }

// writeBack writes a long log back. SQLite could do it in the commit that makes it long, but
// then nobody would know who changed the database's file.
func (s *Store) writeBack(ctx context.Context) {
	var busy, pages, done int
	err := s.writer.QueryRowContext(ctx, "PRAGMA wal_checkpoint(NOOP)").Scan(&busy, &pages, &done)
	if err == nil && pages >= logPages && done < pages {
		s.checkpoint(ctx, "PASSIVE") // what remains is written back after the next transaction
	}
}

// checkpoint writes the log back, and tells whether all of it.
func (s *Store) checkpoint(ctx context.Context, mode string) bool {
	if s.guard != nil {
		s.guard.wroteBack = true
	}
	var busy, pages, done int
	err := s.writer.QueryRowContext(ctx, "PRAGMA wal_checkpoint("+mode+")").Scan(&busy, &pages, &done)
	return err == nil && busy == 0 && pages == done
}

// writeOnce runs do in a transaction.
func (s *Store) writeOnce(ctx context.Context, what string, do func(change) error) error {
	s.guard.begin()
	return explain(what, onConn(ctx, s.writer, nil, do))
}
