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
	"sync"
	"sync/atomic"
	"time"

	"nightfloor/store/files"
	"nightfloor/store/handle"
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
	path, err := handle.Find(ctx, path, true)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path}
	if s.writer, err = handle.Open(handle.WriterDSN(path), 1); err != nil {
		return nil, err
	}
	if err := s.migrate(ctx, schema.Steps()); err != nil {
		return nil, first(err, s.writer.Close())
	}
	s.shrinkLog(ctx) // the new tables stand in it, and would fill a small disk
	if s.guard, err = newGuard(ctx, path, s.writer); err != nil {
		return nil, first(explain("open database "+path, err), s.writer.Close())
	}
	if s.reader, err = handle.Open(handle.ReaderDSN(path), readers); err != nil {
		return nil, first(err, s.writer.Close())
	}
	return s, nil
}

// OpenReadOnly opens the database at path for reading; methods that write give
// ErrReadOnly. Errors: those of Open, and ErrOlder for a database that Open
// would have to bring up to date first.
func OpenReadOnly(ctx context.Context, path string) (*Store, error) {
	path, err := handle.Find(ctx, path, false)
	if err != nil {
		return nil, err
	}
	dsn, err := handle.Reading(ctx, path)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path}
	if s.reader, err = handle.Open(dsn, readers); err != nil {
		return nil, err
	}
	return s, nil
}

// migrate brings the database to the last of steps, all in one transaction:
// after a power cut it is either what it was or complete. The transaction
// begins by taking the write lock, so that of two programs that open a new
// file one waits for the other.
func (s *Store) migrate(ctx context.Context, steps []string) error {
	return s.writeOnce(ctx, "open database "+s.path, func(c change) error { return schema.Apply(c.ctx, c.tx, steps) })
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

// logPages is the length in pages at which the write-ahead log is written
// back: 4 MB, some quarter of an hour of a survey.
const logPages = 128

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
