// Package handle finds the file that a path names, tells whether it is a database of ours, and opens
// handles of it: one that writes, and some that cannot.
package handle

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"nightfloor/store/files"
	"nightfloor/store/lock"
	"nightfloor/store/schema"
	"nightfloor/store/trouble"
	"nightfloor/survey"
)

// leastFile is the length in bytes of what begins every database (sqlite.org/fileformat.html, 1.3).
// SQLite takes a shorter file for an empty one and writes over it.
const leastFile = 100

// Find gives the absolute path of a database, links followed, so that two
// names of one file share one lock. It never opens the file: closing it would
// drop the locks that SQLite holds in this process (POSIX advisory locks).
func Find(ctx context.Context, path string, create bool) (string, error) {
	what := "open database " + path
	if path == "" {
		return "", fmt.Errorf("open database: %w: no path; name a file with --db", trouble.ErrAccess)
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	if create {
		if err := makeDefaultFolder(full); err != nil {
			return "", fmt.Errorf("%s: %w: %w; name another file with --db", what, trouble.ErrAccess, survey.FileTrouble(err))
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
		return "", fmt.Errorf("%s: %w; record or import makes it, or name another with --db", what, survey.Told("there is no such file", trouble.ErrAccess))
	case err != nil:
		return "", fmt.Errorf("%s: %w: %w; check the path", what, trouble.ErrAccess, survey.FileTrouble(err))
	case info.IsDir():
		return "", fmt.Errorf("%s: %w: a folder, not a file; name a file in it", what, schema.ErrNotOurs)
	case !info.Mode().IsRegular():
		return "", fmt.Errorf("%s: %w: %s, not a file; name a file", what, schema.ErrNotOurs, survey.FileKind(info.Mode()))
	case info.Size() > 0 && info.Size() < leastFile:
		return "", fmt.Errorf("%s: %w: %s, too short to be a database; name another file", what, schema.ErrNotOurs, survey.Count(int(info.Size()), "byte"))
	case info.Size() > 0 && create:
		if err := lock.Elsewhere(full); err != nil {
			return "", fmt.Errorf("%s: %w", what, err)
		}
		// Asked without writing first: opening for writing would turn
		// another program's database into WAL mode.
		err := Check(ctx, ReaderDSN(full), full)
		if trouble.HalfMade(err) {
			err = Check(ctx, URI(full)+"?mode=rw&_busy_timeout=5000", full)
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

// Open gives a handle of at most most connections.
func Open(dsn string, most int) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	return db, nil
}

// Check tells why the database behind dsn cannot be read by this program, without writing.
func Check(ctx context.Context, dsn, path string) error {
	db, err := Open(dsn, 1)
	if err != nil {
		return err
	}
	h, err := schema.ReadHeader(ctx, db)
	if err == nil {
		err = h.Check(len(schema.Steps()))
	}
	return trouble.Explain("open database "+path, cmp.Or(err, db.Close()))
}

// Reading gives the data source name for reading the database at path, whose folder may be one that
// nobody can write.
func Reading(ctx context.Context, path string) (dsn string, err error) {
	dsn = ReaderDSN(path)
	err = Check(ctx, dsn, path)
	if (errors.Is(err, trouble.ErrAccess) || errors.Is(err, trouble.ErrReadOnly)) && noWriter(path) {
		dsn = ArchiveDSN(path)
		err = Check(ctx, dsn, path)
	}
	return dsn, err
}
