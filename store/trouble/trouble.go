// Package trouble says what SQLite's errors mean, and what a person is to do about them.
package trouble

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"nightfloor/store/schema"
	"nightfloor/survey"
)

// Errors that callers test for with errors.Is.
var (
	ErrFull     = errors.New("the disk is full")
	ErrReadOnly = errors.New("it can only be read")
	ErrAccess   = errors.New("the file or its folder cannot be opened")
	ErrDisk     = errors.New("the disk cannot be read or written")
	ErrBusy     = errors.New("another program holds it locked")
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
	sqlite3.SQLITE_NOTADB:   {schema.ErrNotOurs, "name another file"},
	sqlite3.SQLITE_CORRUPT:  {schema.ErrDamaged, "keep a copy, and go back to the last backup"},
	sqlite3.SQLITE_IOERR:    {ErrDisk, "check the disk and whether it is full"},
	sqlite3.SQLITE_BUSY:     {ErrBusy, "wait for the other program, or close it"},

	sqlite3.SQLITE_IOERR_SHORT_READ: {schema.ErrDamaged, "keep a copy, and go back to the last backup"}, // a file ends too early
}

// Explain wraps an error of SQLite with what was tried, one of the errors
// above and what to do; any other error with what was tried.
func Explain(what string, err error) error {
	if err == nil {
		return nil
	}
	if from, ok := errors.AsType[*sqlite.Error](err); ok {
		known, ok := advice[from.Code()]
		if !ok {
			known, ok = advice[from.Code()&0xff]
		}
		switch {
		case ok && (known.kind == schema.ErrDamaged || known.kind == ErrDisk): // SQLite knows more of it
			return fmt.Errorf("%s: %w (%w); %s", what, known.kind, err, known.todo)
		case ok:
			return fmt.Errorf("%s: %w; %s", what, survey.Told(known.kind.Error(), known.kind, err), known.todo)
		}
	}
	return fmt.Errorf("%s: %w", what, err)
}

// HalfMade tells that a transaction in SQLite's old way, as the first of a database is, was cut
// short by a power cut or a kill, and that who may write takes it back by opening the file.
func HalfMade(err error) bool {
	from, ok := errors.AsType[*sqlite.Error](err)
	return ok && from.Code() == sqlite3.SQLITE_READONLY_ROLLBACK
}

// OfContent tells whether an error is about what is in the file: it is damaged, no
// database, or lacks our tables (SQLITE_ERROR).
func OfContent(err error) bool {
	var from *sqlite.Error
	return errors.Is(err, schema.ErrDamaged) || errors.Is(err, schema.ErrNotOurs) || errors.As(err, &from) && from.Code() == sqlite3.SQLITE_ERROR
}
