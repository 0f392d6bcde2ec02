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
	"nightfloor/survey"
)

// Errors that callers test for with errors.Is.
var (
	ErrNewer    = schema.ErrNewer
	ErrOlder    = schema.ErrOlder
	ErrNotOurs  = schema.ErrNotOurs
	ErrDamaged  = schema.ErrDamaged
	ErrLocked   = lock.ErrLocked
	ErrFull     = errors.New("the disk is full")
	ErrReadOnly = errors.New("it can only be read")
	ErrAccess   = errors.New("the file or its folder cannot be opened")
	ErrDisk     = errors.New("the disk cannot be read or written")
	ErrBusy     = errors.New("another program holds it locked")
	ErrUnknown  = errors.New("no such entry")
	ErrStored   = errors.New("already stored")
	ErrInvalid  = survey.ErrInvalid
	ErrApart    = rename.ErrApart
	ErrLost     = errors.New("the database was changed under this process")
)

// advice tells a person what to do about each of SQLite's troubles.
// Codes: sqlite.org/rescode.html, extended ones or their low byte.
var advice = map[int]struct {
	kind error
	todo string
}{
	sqlite3.SQLITE_FULL:     {ErrFull, "make room; what was stored before is safe"},
	sqlite3.SQLITE_READONLY: {ErrReadOnly, "give write permission to the file and its folder, or name another database"},
	sqlite3.SQLITE_CANTOPEN: {ErrAccess, "check that the folder is there, and that you may read and write both"},
	sqlite3.SQLITE_PERM:     {ErrAccess, "check the permissions of the file and its folder"},
	sqlite3.SQLITE_NOTADB:   {ErrNotOurs, "name another file"},
	sqlite3.SQLITE_CORRUPT:  {ErrDamaged, "keep a copy, and go back to the last backup"},
	sqlite3.SQLITE_IOERR:    {ErrDisk, "check the disk and whether it is full"},
	sqlite3.SQLITE_BUSY:     {ErrBusy, "wait for the other program, or close it"},

	sqlite3.SQLITE_IOERR_SHORT_READ: {ErrDamaged, "keep a copy, and go back to the last backup"}, // a file ends too early
}

// mistake is what to do about what should never be asked of the store.
const mistake = "this is a mistake in nightfloor, please report it"

// explain wraps an error of SQLite with what was tried, one of the errors
// above and what to do; any other error with what was tried.
func explain(what string, err error) error {
	if err == nil {
		return nil
	}
	if trouble, ok := errors.AsType[*sqlite.Error](err); ok {
		known, ok := advice[trouble.Code()]
		if !ok {
			known, ok = advice[trouble.Code()&0xff]
		}
		switch {
		case ok && (known.kind == ErrDamaged || known.kind == ErrDisk): // SQLite knows more of it
			return fmt.Errorf("%s: %w (%w); %s", what, known.kind, err, known.todo)
		case ok:
			return fmt.Errorf("%s: %w; %s", what, survey.Told(known.kind.Error(), known.kind, err), known.todo)
		}
	}
	return fmt.Errorf("%s: %w", what, err)
}

// halfMade tells that a transaction in SQLite's old way, as the first of a database is, was cut
// short by a power cut or a kill, and that who may write takes it back by opening the file.
func halfMade(err error) bool {
	trouble, ok := errors.AsType[*sqlite.Error](err)
	return ok && trouble.Code() == sqlite3.SQLITE_READONLY_ROLLBACK
}

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
