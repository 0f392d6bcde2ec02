package store

import (
	"errors"
	"fmt"
	"time"

	"nightfloor/store/lock"
	"nightfloor/survey"
)

// LockWriter takes the lock of the one process that may record into the database (package
// lock), until release or the process's end. since is now, for the others' message.
func (s *Store) LockWriter(since time.Time) (release func() error, err error) {
	what := "lock database " + s.path
	if s.writer == nil {
		return nil, fmt.Errorf("%s: %w: opened for reading; open it for writing", what, ErrReadOnly)
	}
	l, err := lock.Take(s.path)
	switch {
	case errors.Is(err, ErrLocked):
		return nil, fmt.Errorf("%s: %w; stop that one, or name another database with --db", what, err)
	case err != nil:
		return nil, fmt.Errorf("%s: %w: %w; check that its folder may be written", what, ErrAccess, survey.FileTrouble(err))
	}
	if err := l.Sign(since); err != nil {
		return nil, fmt.Errorf("%s: %w; check that its folder may be written", what, survey.FileTrouble(first(err, l.Release())))
	}
	return l.Release, nil
}
