package store

import (
	"cmp"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"nightfloor/store/lock"
	"nightfloor/store/rename"
	"nightfloor/store/schema"
	"nightfloor/store/trouble"
	"nightfloor/survey"
)

// Errors that callers test for with errors.Is.
var (
	ErrNewer    = schema.ErrNewer
	ErrOlder    = schema.ErrOlder
	ErrNotOurs  = schema.ErrNotOurs
	ErrDamaged  = schema.ErrDamaged
	ErrLocked   = lock.ErrLocked
	ErrFull     = trouble.ErrFull
	ErrReadOnly = trouble.ErrReadOnly
	ErrAccess   = trouble.ErrAccess
	ErrDisk     = trouble.ErrDisk
	ErrBusy     = trouble.ErrBusy
	ErrUnknown  = errors.New("no such entry")
	ErrStored   = errors.New("already stored")
	ErrInvalid  = survey.ErrInvalid
	ErrApart    = rename.ErrApart
	ErrLost     = errors.New("the database was changed under this process")
)

// mistake is what to do about what should never be asked of the store.
const mistake = "this is a mistake in nightfloor, please report it"

// refused says what the schema has against a row of a table: an error of SQLite about a
// constraint becomes one of those above. Any other stays as it is.
func refused(err error, table string, row columns) error {
	trouble, ok := errors.AsType[*sqlite.Error](err)
	if !ok || trouble.Code()&0xff != sqlite3.SQLITE_CONSTRAINT {
		return err
	}
	switch trouble.Code() {
	case sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		for _, c := range row {
			if id, ok := c.field.(*int64); ok && c.name == "survey" {
				return fmt.Errorf("survey %d: %w; begin the survey first", *id, ErrUnknown)
			}
		}
		return fmt.Errorf("%w that a row of %s belongs to; store that first", ErrUnknown, table)
	case sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY:
		return fmt.Errorf("row of %s: %w; %s", table, ErrStored, mistake)
	}
	return fmt.Errorf("row of %s: %w; %s", table, ErrInvalid, mistake) // a word where the schema wants another
}

// first gives the first error there is. Where one trouble makes the next,
// the first says what is wrong, and an error stays one line.
var first = cmp.Or[error]

// explain says what was tried and what to do about it.
var explain = trouble.Explain
