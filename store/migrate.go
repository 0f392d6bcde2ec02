package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
)

// applicationID marks a SQLite file as ours: "NFLR" in ASCII
// (sqlite.org/fileformat2.html#application_id).
const applicationID = 0x4e464c52

//go:embed migrations/*.sql
var migrations embed.FS

// steps gives the schema's steps in order: step i leads to version i+1.
// Numbered names sort in their order.
func steps() []string {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		panic(err) // the pattern is ours
	}
	var all []string
	for _, name := range names {
		text, err := migrations.ReadFile(name)
		if err != nil {
			panic(err) // embedded
		}
		all = append(all, string(text))
	}
	return all
}

// A header is what SQLite keeps about a file for its application.
type header struct {
	application, version, tables int
}

// querier is a handle or a transaction.
type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// readHeader asks a database who made it, and in which version.
func readHeader(ctx context.Context, db querier) (h header, err error) {
	err = db.QueryRowContext(ctx, `SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)
		FROM pragma_application_id, pragma_user_version`).Scan(&h.application, &h.version, &h.tables)
	return h, err
}

// errFresh tells that nothing has been put into the file yet.
var errFresh = fmt.Errorf("%w: nothing is in it; name another file", ErrNotOurs)

// check tells why a database cannot be read by a program whose schema has version latest.
func (h header) check(latest int) error {
	switch {
	case h == header{}:
		return errFresh
	case h.application != applicationID:
		return fmt.Errorf("%w, but a SQLite file of another program; name another file", ErrNotOurs)
	case h.version > latest:
		return fmt.Errorf("%w (its schema %d, here %d); update nightfloor", ErrNewer, h.version, latest)
	case h.version < 1:
		return fmt.Errorf("%w: its schema has number %d; go back to the last backup", ErrDamaged, h.version)
	case h.version < latest:
		return fmt.Errorf("%w (its schema %d, here %d); open it once for writing, for example with `nightfloor database check`", ErrOlder, h.version, latest)
	}
	return nil
}

// grows tells whether migrate mends what check found.
func grows(err error) bool { return errors.Is(err, ErrOlder) || errors.Is(err, errFresh) }

// checkFile tells why the database behind dsn cannot be read by this program, without writing.
func checkFile(ctx context.Context, dsn, path string) error {
	db, err := openHandle(dsn, 1)
	if err != nil {
		return err
	}
	h, err := readHeader(ctx, db)
	if err == nil {
		err = h.check(len(steps()))
	}
	return explain("open database "+path, first(err, db.Close()))
}

// migrate brings the database to the last of steps, all in one transaction:
// after a power cut it is either what it was or complete. The transaction
// begins by taking the write lock, so that of two programs that open a new
// file one waits for the other.
func (s *Store) migrate(ctx context.Context, steps []string) error {
	return s.writeOnce(ctx, "open database "+s.path, func(c change) error { return c.apply(steps) })
}

// apply runs those of steps that the database lacks.
func (c change) apply(steps []string) error {
	h, err := readHeader(c.ctx, c.tx)
	if err != nil {
		return err
	}
	if err := h.check(len(steps)); !grows(err) {
		return err
	}
	for i := h.version; i < len(steps); i++ {
		if _, err := c.run(steps[i]); err != nil {
			return fmt.Errorf("bring the schema to %d: %w", i+1, err)
		}
	}
	_, err = c.run(fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, len(steps)))
	return err
}
