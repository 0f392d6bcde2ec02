// Package schema brings a database to the tables that this program knows, and tells whose a file is.
package schema

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
)

// Errors that callers test for with errors.Is.
var (
	ErrNewer   = errors.New("written by a newer nightfloor")
	ErrOlder   = errors.New("written by an older nightfloor")
	ErrNotOurs = errors.New("not a nightfloor database")
	ErrDamaged = errors.New("the database is damaged")
)

// ApplicationID marks a SQLite file as ours: "NFLR" in ASCII
// (sqlite.org/fileformat2.html#application_id).
const ApplicationID = 0x4e464c52

//go:embed migrations/*.sql
var migrations embed.FS

// Steps gives the schema's steps in order: step i leads to version i+1.
// Numbered names sort in their order.
func Steps() []string {
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

// A Header is what SQLite keeps about a file for its application.
type Header struct {
	Application, Version, Tables int
}

// Querier is a handle or a transaction.
type Querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// ReadHeader asks a database who made it, and in which version.
func ReadHeader(ctx context.Context, db Querier) (h Header, err error) {
	err = db.QueryRowContext(ctx, `SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)
		FROM pragma_application_id, pragma_user_version`).Scan(&h.Application, &h.Version, &h.Tables)
	return h, err
}

// errFresh tells that nothing has been put into the file yet.
var errFresh = fmt.Errorf("%w: nothing is in it; name another file", ErrNotOurs)

// Check tells why a database cannot be read by a program whose schema has version latest.
func (h Header) Check(latest int) error {
	switch {
	case h == Header{}:
		return errFresh
	case h.Application != ApplicationID:
		return fmt.Errorf("%w, but a SQLite file of another program; name another file", ErrNotOurs)
	case h.Version > latest:
		return fmt.Errorf("%w (its schema %d, here %d); update nightfloor", ErrNewer, h.Version, latest)
	case h.Version < 1:
		return fmt.Errorf("%w: its schema has number %d; go back to the last backup", ErrDamaged, h.Version)
	case h.Version < latest:
		return fmt.Errorf("%w (its schema %d, here %d); open it once for writing, for example with `nightfloor database check`", ErrOlder, h.Version, latest)
	}
	return nil
}

// Grows tells whether Apply mends what Check found.
func Grows(err error) bool { return errors.Is(err, ErrOlder) || errors.Is(err, errFresh) }

// Apply runs those of steps that the database lacks.
func Apply(ctx context.Context, tx *sql.Tx, steps []string) error {
	h, err := ReadHeader(ctx, tx)
	if err != nil {
		return err
	}
	if err := h.Check(len(steps)); !Grows(err) {
		return err
	}
	for i := h.Version; i < len(steps); i++ {
		if _, err := tx.ExecContext(ctx, steps[i]); err != nil {
			return fmt.Errorf("bring the schema to %d: %w", i+1, err)
		}
	}
	_, err = tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", ApplicationID, len(steps)))
	return err
}
