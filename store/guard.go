package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"nightfloor/store/schema"
)

// A guard knows the files of an open database as this process left them. SQLite goes on with a
// file that was removed, moved, replaced or overwritten under it and reports no error, so the
// writer looks before each transaction and after it.
type guard struct {
	path      string
	main, log os.FileInfo // as they stood at the last look; log: nil before there is one
	stored    tally       // what this process has called stored of the survey that it records
	next      tally       // the same once the transaction under way is on the disk
}

// A tally counts rows that were stored into one survey by AddSweep, with what was added to
// them later.
type tally struct {
	survey      int64
	first, last int64 // numbers of sweeps
	reading     int64 // number of the first reading
	lastReading int64
	counts
}

// counts are how many rows there are of each kind.
type counts struct{ sweeps, readings, carriers, findings, spectra int64 }

// A fault is what happened to the files.
type fault struct {
	what    string
	damaged bool // the database's own file has another content; otherwise it is whole, elsewhere
}

// newGuard looks at a database that was just opened.
func newGuard(path string) (g *guard, err error) {
	g = &guard{path: path}
	g.main, g.log, err = g.stat()
	return g, err
}

// keep takes the files as they are for right, after this process has written the log back. It
// leaves it to the next look to find that they are others.
func (g *guard) keep() {
	if g == nil {
		return
	}
	main, log, err := g.stat()
	if err == nil && os.SameFile(main, g.main) && (g.log == nil || log != nil && os.SameFile(log, g.log)) {
		g.main, g.log = main, log
	}
}

// stat asks for both files; log is nil where there is none. On Windows a comparison of a file
// with itself asks for its number at once, and not when it is first compared with another.
func (g *guard) stat() (main, log os.FileInfo, err error) {
	if main, err = os.Stat(g.path); err != nil {
		return nil, nil, err
	}
	os.SameFile(main, main)
	log, err = os.Stat(g.path + "-wal")
	if errors.Is(err, fs.ErrNotExist) {
		return main, nil, nil
	}
	os.SameFile(log, log)
	return main, log, err
}

// begin and commit stand around a transaction; that of a sweep or carriers counts them in
// between.
func (g *guard) begin() {
	if g != nil {
		g.next = g.stored
	}
}

func (g *guard) commit() {
	if g != nil {
		g.stored = g.next
	}
}

// addedSweep counts a sweep in the transaction under way. With another survey it begins anew.
func (g *guard) addedSweep(c change, survey, id int64) error {
	if g == nil {
		return nil
	}
	if g.next.survey != survey {
		g.next = tally{survey: survey, first: id}
	}
	is, err := countRows(c.ctx, c.tx, tally{survey: survey, first: id, last: id})
	if err == nil && is.readings > 0 {
		low := int64(0)
		err = c.tx.QueryRowContext(c.ctx, `SELECT min(id), max(id) FROM readings WHERE sweep = ?`, id).Scan(&low, &g.next.lastReading)
		g.next.reading = cmp.Or(g.next.reading, low)
	}
	g.next.last = id
	g.next.add(is, +1)
	return err
}

// addedTo counts what insert adds to readings, by their numbers in order, in the transaction
// under way.
func (g *guard) addedTo(c change, readings []int64, insert func() error) error {
	if len(readings) == 0 || g == nil || g.next.reading == 0 {
		return insert()
	}
	low, high := max(readings[0], g.next.reading), readings[len(readings)-1] // from the first that is counted
	count := func(times int64) error {
		var is counts
		err := c.tx.QueryRowContext(c.ctx, `SELECT (SELECT count(*) FROM carriers WHERE reading BETWEEN ?1 AND ?2),
			(SELECT count(*) FROM findings WHERE reading BETWEEN ?1 AND ?2)`, low, high).Scan(&is.carriers, &is.findings)
		g.next.add(is, times)
		return err
	}
	if err := count(-1); err != nil {
		return err
	}
	return first(insert(), count(+1))
}

// add adds other counts, by times times.
func (r *counts) add(o counts, times int64) {
	r.sweeps, r.readings, r.spectra = r.sweeps+times*o.sweeps, r.readings+times*o.readings, r.spectra+times*o.spectra
	r.carriers, r.findings = r.carriers+times*o.carriers, r.findings+times*o.findings
}

// countRows counts the rows of those sweeps that t is of.
func countRows(ctx context.Context, db schema.Querier, t tally) (is counts, err error) {
	const of = " WHERE reading IN (SELECT r.id FROM readings r JOIN sweeps s ON s.id = r.sweep WHERE s.survey = ?1 AND s.id BETWEEN ?2 AND ?3))"
	err = db.QueryRowContext(ctx, `SELECT count(*),
			(SELECT count(*) FROM readings r JOIN sweeps s ON s.id = r.sweep WHERE s.survey = ?1 AND s.id BETWEEN ?2 AND ?3),
			(SELECT count(*) FROM carriers`+of+`, (SELECT count(*) FROM findings`+of+`, (SELECT count(*) FROM spectra`+of+`
		FROM sweeps WHERE survey = ?1 AND id BETWEEN ?2 AND ?3`, t.survey, t.first, t.last).
		Scan(&is.sweeps, &is.readings, &is.carriers, &is.findings, &is.spectra)
	return is, err
}

// look tells what happened to the files, "" for nothing. The error says that this cannot be
// told now.
func (g *guard) look(ctx context.Context) (fault, error) {
	main, log, err := g.stat()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault{what: g.path + " was removed or moved"}, nil
	case err != nil:
		return fault{}, fmt.Errorf("%w: %w; check the disk", ErrDisk, err)
	case !os.SameFile(main, g.main):
		return fault{what: g.path + " was replaced by another file"}, nil
	case g.log != nil && log == nil:
		return fault{what: g.path + "-wal was removed"}, nil
	case g.log != nil && !os.SameFile(log, g.log):
		return fault{what: g.path + "-wal was replaced by another file"}, nil
	}
	if main.Size() != g.main.Size() || !main.ModTime().Equal(g.main.ModTime()) || g.log != nil && log.Size() < g.log.Size() {
		// Another process may have written the log back, as `note` does, or made the file
		// smaller (VACUUM). What counts is what is in it.
		switch err := lookInto(ctx, g.path, g.stored); {
		case err == nil:
		case ofContent(err):
			return fault{what: g.path + " was cut short or overwritten by another program", damaged: true}, nil
		case errors.Is(err, ErrBusy) || errors.Is(err, ErrDisk):
			return fault{}, err
		default: // it cannot be opened now, or memory is short: that says nothing about what is in it
			return fault{}, fmt.Errorf("%w: %w", ErrDisk, err)
		}
	}
	g.main, g.log = main, log
	return fault{}, nil
}

// ofContent tells whether an error of lookInto is about what is in the file: it is damaged, no
// database, or lacks our tables (SQLITE_ERROR).
func ofContent(err error) bool {
	var trouble *sqlite.Error
	return errors.Is(err, ErrDamaged) || errors.Is(err, ErrNotOurs) || errors.As(err, &trouble) && trouble.Code() == sqlite3.SQLITE_ERROR
}

// lookInto tells by a connection of its own, which has nothing in memory, whether the database
// at path is sound and has the rows that were stored. A page of an older copy can be sound.
func lookInto(ctx context.Context, path string, stored tally) (err error) {
	db, err := openHandle(readerDSN(path), 1)
	if err != nil {
		return err
	}
	defer func() { err = explain("look into "+path, first(err, db.Close())) }()
	is, err := countRows(ctx, db, stored)
	if err == nil && is != stored.counts {
		err = fmt.Errorf("%w: %+v of %+v", ErrDamaged, is, stored.counts)
	}
	if err != nil {
		return err
	}
	var said string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&said); err != nil || said == "ok" {
		return err
	}
	return fmt.Errorf("%w: %s; keep a copy, and go back to the last backup", ErrDamaged, strings.ReplaceAll(said, "\n", " "))
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
		s.lost = s.rescue(ctx, happened, time.Now())
		err = s.lost
	}
	return err
}
