package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"nightfloor/store/checksum"
	"nightfloor/store/files"
	"nightfloor/store/handle"
	"nightfloor/store/tally"
	"nightfloor/store/trouble"
)

// A guard knows the files of an open database as this process left them. SQLite goes on with a
// file that was removed, moved, replaced or overwritten under it and reports no error, so the
// writer looks before each transaction and after it.
type guard struct {
	path      string
	writer    *sql.DB   // of one connection
	seen      files.Set // at the last look
	version   int64     // then, of what others have stored (PRAGMA data_version)
	stored    counted   // what this process has called stored
	next      counted   // the same once the transaction under way is on the disk
	looks     int       // into the content
	wroteBack bool      // this process has written the log back since the last look
	partly    bool      // others have changed the files, and of what is in them only some was looked at
	due       bool      // the next look is to be a whole one
}

// A fault is what happened to the files.
type fault struct {
	what    string
	damaged bool // the database's own file has another content; otherwise it is whole, elsewhere
	apart   bool // who opened the database since has another index of the log: neither sees what the other stores
	logGone bool // the log at the path is not this process's own
}

// newGuard looks at a database that was just opened.
func newGuard(ctx context.Context, path string, writer *sql.DB) (*guard, error) {
	g := &guard{path: path, writer: writer}
	var err error
	if g.seen, err = files.At(path); err == nil {
		g.version, err = g.dataVersion(ctx)
	}
	return g, err
}

// dataVersion gives a number that is another once others have committed a transaction.
func (g *guard) dataVersion(ctx context.Context) (version int64, err error) {
	return version, g.writer.QueryRowContext(ctx, "PRAGMA data_version").Scan(&version)
}

// look tells what happened to the files, "" for nothing. The error says that this cannot be
// told now.
func (g *guard) look(ctx context.Context) (fault, error) {
	is, err := files.At(g.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault{what: g.path + " was removed or moved"}, nil
	case err != nil:
		return fault{}, fmt.Errorf("%w: %w; check the disk", ErrDisk, err)
	}
	if how := files.Another(g.seen.Main, is.Main); how != "" {
		return fault{what: g.path + " was " + how}, nil
	}
	shared, log := files.Another(g.seen.Shared, is.Shared), files.Another(g.seen.Log, is.Log)
	switch {
	case log != "":
		return fault{what: g.path + "-wal was " + log, apart: shared != "", logGone: true}, nil
	case shared != "":
		return fault{what: g.path + "-shm was " + shared, apart: true}, nil
	}
	return g.lookInto(ctx, is)
}

// lookTime is how long a look through all of the database may take where nothing tells that something
// is wrong: at a survey's end, and before it is begun. Some gigabytes on a fast disk. Chosen; a test
// changes it.
var lookTime = 10 * time.Second

// inTime lets look work for lookTime at most: what it has not found by then is not found.
func inTime(ctx context.Context, look func(context.Context) error) error {
	limited, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	err := look(limited)
	if limited.Err() != nil && ctx.Err() == nil && !trouble.OfContent(err) {
		return nil
	}
	return err
}

// lookInto looks at the content where the files are not as they were at the last look, or others
// have stored something. Another process may have written the log back, as `note` does, made the
// file smaller (VACUUM), or put an older copy into it as a transaction, so what counts is what is in
// it: some of it each time, since all of it takes seconds for a file of many nights; all where some
// is wrong, where the file is shorter, and once more at a survey's end.
func (g *guard) lookInto(ctx context.Context, is files.Set) (fault, error) {
	was := g.seen
	version, err := g.dataVersion(ctx)
	others := err != nil || version != g.version // an error comes again from the look
	changed := others || is.Main.Size() != was.Main.Size() || !is.Main.ModTime().Equal(was.Main.ModTime()) || was.Log != nil && is.Log.Size() < was.Log.Size()
	if !changed && !g.due {
		g.seen, g.wroteBack = is, false
		return fault{}, nil
	}
	shorter := is.Main.Size() < was.Main.Size()
	g.looks++
	if shorter || g.due || lookIntoSome(ctx, g.path, g.stored.own, g.looks) != nil {
		look := func(ctx context.Context) error { return lookIntoAll(ctx, g.path, g.stored) }
		if g.due && !shorter {
			err = inTime(ctx, look)
		} else {
			err = look(ctx)
		}
		switch {
		case err == nil:
		case trouble.OfContent(err):
			return fault{what: g.path + " was cut short or overwritten by another program", damaged: true}, nil
		case errors.Is(err, ErrBusy) || errors.Is(err, ErrDisk):
			return fault{}, err
		default: // it cannot be opened now, or memory is short: that says nothing about what is in it
			return fault{}, fmt.Errorf("%w: %w", ErrDisk, err)
		}
		g.partly, changed, others = false, false, false
	}
	g.partly = g.partly || others || changed && !g.wroteBack
	g.seen, g.version, g.due, g.wroteBack = is, version, false, false
	return fault{}, nil
}

// lookIntoAll tells by a connection of its own, which has nothing in memory, whether the database
// at path is sound and has the rows that were stored. Each page of an older copy is sound by itself:
// that rows are missing, or that the pages do not fit each other, tells it.
func lookIntoAll(ctx context.Context, path string, stored counted) error {
	return alone(ctx, path, func(c change) error {
		is, err := tally.Of(c.ctx, c.tx, stored.own)
		if err == nil && is != stored.Counts {
			err = fmt.Errorf("%w: %+v of %+v", ErrDamaged, is, stored.Counts)
		}
		if err == nil {
			err = c.quickCheck()
		}
		return err
	})
}

// quickCheck looks through the structure of the database.
func (c change) quickCheck() error {
	var said string // not asked by the driver itself, as each does: that does not follow the context
	if err := c.tx.QueryRowContext(c.ctx, "PRAGMA quick_check(1)").Scan(&said); err != nil || said == "ok" {
		return err
	}
	return fmt.Errorf("%w: %s; keep a copy, and go back to the last backup", ErrDamaged, strings.ReplaceAll(said, "\n", " "))
}

// lookIntoSome tells likewise of some of the sweeps that this process stored whether they are as
// they were stored: the last, and others back to the first, each about four times as far back as the one
// before. What an older copy lacks, or the log that was written back onto it has not, is the latest.
// Others are taken at each turn.
func lookIntoSome(ctx context.Context, path string, own tally.Spans, turn int) error {
	return alone(ctx, path, func(c change) error {
		if _, err := c.number("SELECT count(*) FROM surveys"); err != nil { // of a database at all
			return err
		}
		for far := 1; ; far *= 4 {
			reading, ok := own.FromLast(far - 1 + turn*someStride%far)
			if !ok {
				return nil
			}
			var sweep, stored int64
			err := c.tx.QueryRowContext(ctx, `SELECT s.id, ifnull(s.checksum, -1) FROM readings r JOIN sweeps s ON s.id = r.sweep WHERE r.id = ?`, reading).Scan(&sweep, &stored)
			if err != nil {
				return err
			}
			sum, err := checksum.Of(ctx, c.each, sweep)
			if err == nil && sum != stored {
				err = fmt.Errorf("%w: sweep %d", ErrDamaged, sweep)
			}
			if err != nil {
				return err
			}
		}
	})
}

// someStride is a prime, so that all places between two powers of 4 get their turn.
const someStride = 7919

// alone lets do read the database at path by a connection of its own.
func alone(ctx context.Context, path string, do func(c change) error) error {
	return explain("look into "+path, aloneBy(ctx, handle.ReaderDSN(path), do))
}

func aloneBy(ctx context.Context, dsn string, do func(c change) error) (err error) {
	db, err := handle.Open(dsn, 1)
	if err != nil {
		return err
	}
	defer func() { err = first(err, db.Close()) }()
	return onConn(ctx, db, &sql.TxOptions{ReadOnly: true}, do)
}

// intact gives nil while the files are this process's own; otherwise what happened and what was
// saved, for ever after. The caller holds s.writing.
func (s *Store) intact(ctx context.Context) error {
	if s.lost != nil || s.guard == nil {
		return s.lost
	}
	ctx = context.WithoutCancel(ctx)
	happened, err := s.guard.look(ctx)
	if err == nil && happened.what != "" {
		if s.Saving != nil {
			s.Saving(happened.what)
		}
		s.lost = s.rescue(ctx, happened, time.Now())
		err = s.lost
	}
	return err
}

// lookOnceMore makes the next look a whole one where others have changed the files since the
// last whole one.
func (s *Store) lookOnceMore() {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.guard != nil {
		s.guard.due = s.guard.partly
	}
}
