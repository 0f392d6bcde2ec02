package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"nightfloor/survey"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// rescue saves what this process still has of a database that was taken away under it into a
// file beside it, and gives the error that says what happened, what was saved and what to do.
// Nothing may be written through the open connections afterwards.
func (s *Store) rescue(ctx context.Context, happened fault, now time.Time) error {
	beside := strings.TrimSuffix(s.path, filepath.Ext(s.path)) + "-rescued-" + now.UTC().Format("20060102T150405Z")
	for _, err := os.Lstat(beside + ".db"); err == nil; _, err = os.Lstat(beside + ".db") {
		beside += "b" // an earlier one of the same second
	}
	path := beside + ".db"
	err := s.saveWhole(ctx, path)
	whole := err == nil
	if !happened.damaged && (whole || errors.Is(err, ErrFull)) {
		// The file, wherever it is now, gets all of the log, and the log is empty: it cannot be
		// taken for that of another file at this path.
		s.shrinkLog(ctx)
	} else {
		s.damaged = true
	}
	s.setLogAside(beside + ".wal")
	if !whole {
		os.Remove(path) // where it fails the next step does too
		err = s.salvage(ctx, path)
	}
	return fmt.Errorf("%w: %s; nothing more is stored; %s", ErrLost, happened.what, s.saved(ctx, path, whole, err))
}

// saved says how much of the database is in the file at path, and what to do. err: nothing is.
func (s *Store) saved(ctx context.Context, path string, whole bool, err error) string {
	all := s.guard.stored
	switch {
	case err != nil:
		return fmt.Sprintf("nothing could be saved: %v; go back to the last backup", err)
	case whole:
		return fmt.Sprintf("all of it, with the %s that this process stored, is in %s; move that to %s, and start again", survey.Count(int(all.sweeps), "sweep"), path, s.path)
	}
	is := s.countSaved(ctx, path)
	return fmt.Sprintf("what could be read is in %s, with %d of the %d sweeps that this process stored, %d of %d readings, %d of %d carriers, %d of %d findings and %d of %d spectra; go on with it, or with the last backup",
		path, is.sweeps, all.sweeps, is.readings, all.readings, is.carriers, all.carriers, is.findings, all.findings, is.spectra, all.spectra)
}

// saveWhole copies the database, as the open connection sees it, to path, and gives an error
// where the copy is not sound or lacks sweeps.
func (s *Store) saveWhole(ctx context.Context, path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil { // the folder may have been moved too
		return err
	}
	if _, err := s.writer.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return explain("save "+path, err)
	}
	if err := lookInto(ctx, path, s.guard.stored); err != nil {
		return err
	}
	return s.onDisk(path)
}

// onDisk gives a saved file the permissions of the database and puts it onto the disk. No
// connection may have it open.
func (s *Store) onDisk(path string) error {
	if err := os.Chmod(path, s.guard.main.Mode().Perm()); err != nil {
		return err
	}
	for _, name := range []string{path, filepath.Dir(path)} {
		file, err := os.Open(name)
		if err != nil {
			return err
		}
		err = file.Sync()
		if closeErr := file.Close(); name == path { // not every system syncs folders
			if err := first(err, closeErr); err != nil {
				return err
			}
		}
	}
	return nil
}

// setLogAside renames a write-ahead log that is left beside the database or is the database's:
// the next who opens a file at this path would take it for that file's.
func (s *Store) setLogAside(to string) {
	main, log, err := s.guard.stat()
	if log == nil {
		log, _ = os.Stat(s.path + "-wal") // nil: there is none
	}
	ours := log != nil && s.guard.log != nil && os.SameFile(log, s.guard.log)
	ours = ours || err == nil && log != nil && os.SameFile(main, s.guard.main)
	if ours && log.Size() > 0 {
		os.Rename(s.path+"-wal", to) // where it fails all is as it was
	}
}

// countSaved counts how much of what this process stored is in the file at path.
func (s *Store) countSaved(ctx context.Context, path string) (is counts) {
	db, err := openHandle(readerDSN(path), 1)
	if err != nil {
		return counts{}
	}
	defer db.Close()
	is, err = countRows(ctx, db, s.guard.stored)
	if err != nil {
		return counts{}
	}
	return is
}

// salvage copies the rows that can still be read into a new database at path: as the open
// connection reads them, and then what the file by itself has more. A row comes with what it
// belongs to or not at all.
func (s *Store) salvage(ctx context.Context, path string) error {
	empty, err := Open(ctx, path)
	if err != nil {
		return err
	}
	if err := empty.Close(); err != nil {
		return err
	}
	conn, err := s.writer.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close() // back into the pool: gives no error
	// With writable_schema SQLite reads a file that is shorter than its header says.
	if _, err := conn.ExecContext(ctx, "PRAGMA writable_schema = on; ATTACH ? AS saved", path); err != nil {
		return explain("save "+path, err)
	}
	tables, err := savedTables(ctx, conn)
	if err != nil {
		return explain("save "+path, err)
	}
	last := max(s.guard.stored.last, s.guard.stored.lastReading) // of what this process stored no key is larger
	for _, t := range tables {
		t.copy(ctx, conn, "main", last)
	}
	if _, err := conn.ExecContext(ctx, "ATTACH ? AS file", archiveDSN(s.path)); err == nil {
		for _, t := range tables {
			t.copy(ctx, conn, "file", last)
		}
	}
	_, err = conn.ExecContext(ctx, "DETACH saved")
	return explain("save "+path, first(err, tidySaved(ctx, path), s.onDisk(path)))
}

// tidySaved takes out spectra that were read as something else, and the checksums of sweeps
// that were saved in part.
func tidySaved(ctx context.Context, path string) error {
	saved, err := Open(ctx, path)
	if err != nil {
		return err
	}
	var bad []int64
	err = saved.read(ctx, "read spectra", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			blob, _ := row[1].([]byte)
			if _, err := decodeDensity(blob); err != nil {
				bad = append(bad, integer(row[0]))
			}
			return nil
		}, `SELECT reading, density FROM spectra`)
	})
	for _, reading := range bad {
		if err == nil {
			_, err = saved.writer.ExecContext(ctx, "DELETE FROM spectra WHERE reading = ?", reading)
		}
	}
	return first(err, saved.unsealParts(ctx), saved.Close())
}

// unsealParts takes the checksums off sweeps that were saved in part: what is missing was told
// when it was saved, and what is there is as good as it was.
func (s *Store) unsealParts(ctx context.Context) error {
	return s.write(ctx, "save sweeps", func(c change) error {
		sums, err := c.checksums(`SELECT id FROM sweeps`)
		for _, stored := range sums {
			sum, sumErr := checksum(ctx, c.each, stored.sweep)
			if err = first(err, sumErr); err == nil && sum != stored.sum {
				_, err = c.run(`UPDATE sweeps SET checksum = NULL WHERE id = ?`, stored.sweep)
			}
		}
		return err
	})
}

// A savedTable is a table to be copied.
type savedTable struct {
	name, key string // key: the column that it is sorted by
	parents   string // the condition that what a row belongs to was copied
}

// savedTables lists the tables of the new database, parents before children.
func savedTables(ctx context.Context, conn *sql.Conn) (tables []savedTable, err error) {
	rows, err := conn.QueryContext(ctx, `
		SELECT t.name, iif(l.wr, (SELECT name FROM pragma_table_info(t.name, 'saved') WHERE pk = 1), 'rowid'),
			ifnull((SELECT group_concat(format('(%s IS NULL OR %s IN (SELECT %s FROM saved.%s))', "from", "from", "to", "table"), ' AND ')
				FROM pragma_foreign_key_list(t.name, 'saved')), 'true')
		FROM saved.sqlite_schema t JOIN pragma_table_list l ON l.schema = 'saved' AND l.name = t.name
		WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' ORDER BY t.rowid`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var t savedTable
		if err := rows.Scan(&t.name, &t.key, &t.parents); err != nil {
			return nil, err
		}
		tables = append(tables, t)
	}
	return tables, rows.Err()
}

// copy copies the rows that can be read. Where the first or the last cannot be asked for,
// they are sought among all keys.
func (t savedTable) copy(ctx context.Context, conn *sql.Conn, from string, last int64) {
	var low, high sql.NullInt64 // NULL: the table is empty
	query := "SELECT min(" + t.key + "), (SELECT max(" + t.key + ") FROM " + from + "." + t.name + ") FROM " + from + "." + t.name
	if err := conn.QueryRowContext(ctx, query).Scan(&low, &high); err != nil {
		low, high = sql.NullInt64{Int64: 1, Valid: true}, sql.NullInt64{Int64: last, Valid: true}
	}
	if low.Valid && high.Valid {
		t.copyRange(ctx, conn, from, low.Int64, high.Int64)
	}
}

// copyRange copies the rows of a range of keys that are not there yet; where one of them cannot
// be read, each half by itself.
func (t savedTable) copyRange(ctx context.Context, conn *sql.Conn, from string, low, high int64) {
	_, err := conn.ExecContext(ctx, fmt.Sprintf("INSERT OR IGNORE INTO saved.%s SELECT * FROM %s.%s WHERE %s BETWEEN ? AND ? AND %s", t.name, from, t.name, t.key, t.parents), low, high)
	if err != nil && low < high {
		middle := low + (high-low)/2
		t.copyRange(ctx, conn, from, low, middle)
		t.copyRange(ctx, conn, from, middle+1, high)
	}
}
