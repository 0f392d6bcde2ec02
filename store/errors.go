package store

import (
	"cmp"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"nightfloor/survey"
)

// Errors that callers test for with errors.Is.
var (
	ErrNewer    = errors.New("written by a newer nightfloor")
	ErrOlder    = errors.New("written by an older nightfloor")
	ErrNotOurs  = errors.New("not a nightfloor database")
	ErrDamaged  = errors.New("the database is damaged")
	ErrLocked   = errors.New("another record is writing it")
	ErrFull     = errors.New("the disk is full")
	ErrReadOnly = errors.New("it can only be read")
	ErrAccess   = errors.New("the file or its folder cannot be opened")
	ErrDisk     = errors.New("the disk cannot be read or written")
	ErrBusy     = errors.New("another program holds it locked")
	ErrUnknown  = errors.New("no such entry")
	ErrStored   = errors.New("already stored")
	ErrInvalid  = survey.ErrInvalid
)

// advice tells a person what to do about each of SQLite's troubles.
// Codes: sqlite.org/rescode.html, extended ones or their low byte.
var advice = map[int]struct {
	kind error
	todo string
}{
	sqlite3.SQLITE_FULL:     {ErrFull, "make room; what was stored before is safe"},
	sqlite3.SQLITE_READONLY: {ErrReadOnly, "give write permission to the file and its folder, or name another database"},
	sqlite3.SQLITE_CANTOPEN: {ErrAccess, "check that the folder exists and may be written"},
	sqlite3.SQLITE_PERM:     {ErrAccess, "check the permissions of the file and its folder"},
	sqlite3.SQLITE_NOTADB:   {ErrNotOurs, "name another file"},
	sqlite3.SQLITE_CORRUPT:  {ErrDamaged, "keep a copy, and go back to the last backup"},
	sqlite3.SQLITE_IOERR:    {ErrDisk, "check the disk and whether it is full"},
	sqlite3.SQLITE_BUSY:     {ErrBusy, "wait for the other program, or close it"},

	sqlite3.SQLITE_CONSTRAINT:            {ErrInvalid, mistake}, // NaN or a word where the schema wants another
	sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY: {ErrUnknown, "store what it belongs to first"},
	sqlite3.SQLITE_CONSTRAINT_UNIQUE:     {ErrStored, "nothing to do"},
}

// mistake is what to do about what should never be asked of the store.
const mistake = "this is a mistake in nightfloor, please report it"

// explain wraps an error of SQLite with what was tried, one of the errors
// above and what to do; any other error with what was tried.
func explain(what string, err error) error {
	if err == nil {
		return nil
	}
	var trouble *sqlite.Error
	if errors.As(err, &trouble) {
		known, ok := advice[trouble.Code()]
		if !ok {
			known, ok = advice[trouble.Code()&0xff]
		}
		if ok {
			return fmt.Errorf("%s: %w (%w); %s", what, known.kind, err, known.todo)
		}
	}
	return fmt.Errorf("%s: %w", what, err)
}

// first gives the first error there is. Where one trouble makes the next,
// the first says what is wrong, and an error stays one line.
var first = cmp.Or[error]
