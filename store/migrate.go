package store

import (
	"context"
	"database/sql"
	"embed"
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

// fresh tells whether nothing has been put into the file yet.
func (h header) fresh() bool { return h == header{} }

// check tells why a database cannot be used by a program whose schema has
// version latest; an older one passes.
func (h header) check(latest int) error {
	switch {
	case h.application != applicationID:
		return fmt.Errorf("%w, but a SQLite file of another program; name another file", ErrNotOurs)
	case h.version > latest:
		return fmt.Errorf("%w (its schema %d, here %d); update nightfloor", ErrNewer, h.version, latest)
	case h.version < 1:
		return fmt.Errorf("%w: its schema has number %d; go back to the last backup", ErrDamaged, h.version)
	}
	return nil
}

// probe reads the header behind dsn, without writing. The error tells why that neither
// is nor may become a database of ours.
func probe(ctx context.Context, dsn, path string) (h header, err error) {
	db, err := openHandle(dsn, 1)
	if err != nil {
		return h, err
	}
	h, err = readHeader(ctx, db)
	if err == nil && !h.fresh() {
		err = h.check(len(steps()))
	}
	return h, explain("open database "+path, first(err, db.Close()))
}

// checkVersion tells whether the database behind dsn has exactly the schema of this
// program, so that it can be read without a change.
func checkVersion(ctx context.Context, dsn, path string) error {
	h, err := probe(ctx, dsn, path)
	switch latest := len(steps()); {
	case err != nil:
		return err
	case h.fresh():
		return explain("open database "+path, h.check(latest))
	case h.version < latest:
		return fmt.Errorf("open database %s: %w (its schema %d, here %d); open it once for writing, for example with `nightfloor database check`",
			path, ErrOlder, h.version, latest)
	}
	return nil
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
	if !h.fresh() {
		if err := h.check(len(steps)); err != nil || h.version == len(steps) {
			return err
		}
	}
	for i := h.version; i < len(steps); i++ {
		if _, err := c.run(steps[i]); err != nil {
			return fmt.Errorf("bring the schema to %d: %w", i+1, err)
		}
	}
	_, err = c.run(fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, len(steps)))
	return err
}
