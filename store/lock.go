package store

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
)

// heldLocks are the locks of this process. The garbage collector closes a file that nothing
// refers to, and its lock would be gone.
var heldLocks sync.Map // of *os.File

// LockWriter takes the lock of the one process that may record into the database, until
// release or the process's end; others may still read, note events or import. The lock is
// on the database's own file where the system can do that, and on one beside it, its path
// with ".lock" behind, in which stand the process id and the time; that one stays behind
// empty. since is now, for the others' message. ErrLocked: another process has the lock,
// which the error names; one that has died has not.
func (s *Store) LockWriter(since time.Time) (release func() error, err error) {
	what := "lock database " + s.path
	if s.writer == nil {
		return nil, fmt.Errorf("%s: %w: opened for reading; open it for writing", what, ErrReadOnly)
	}
	path := s.path + lockSuffix
	file, err := lockFile(path)
	var inode *inodeLock
	if err == nil {
		if inode, err = lockInode(s.path); err != nil {
			err = first(err, file.Close())
		}
	}
	if errors.Is(err, ErrLocked) {
		who := "process unknown"
		if pid, at := readLock(path); pid != 0 {
			who = fmt.Sprintf("process %d", pid)
			if !at.IsZero() {
				who += ", since " + at.Format(time.RFC3339)
			}
		}
		return nil, fmt.Errorf("%s: %w (%s); stop that one, or name another database with --db", what, err, who)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w; check that its folder may be written", what, ErrAccess, err)
	}
	if err := writeLock(file, since); err != nil {
		return nil, fmt.Errorf("%s: %w; check that its folder may be written", what, first(err, inode.unlock(), file.Close()))
	}
	heldLocks.Store(file, true)
	return func() error {
		heldLocks.Delete(file)
		return first(inode.unlock(), unlockFile(file))
	}, nil
}

// writeLock writes process id and time as a line of text.
func writeLock(file *os.File, since time.Time) error {
	line := fmt.Sprintf("%d %s\n", os.Getpid(), since.UTC().Format(time.RFC3339))
	if err := file.Truncate(0); err != nil {
		return err
	}
	_, err := file.WriteAt([]byte(line), 0)
	return err
}

// readLock reads what writeLock wrote; zeros where it cannot.
func readLock(path string) (pid int, since time.Time) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, time.Time{}
	}
	first, second, _ := strings.Cut(strings.TrimSpace(string(text)), " ")
	pid, _ = strconv.Atoi(first)                // 0: unknown
	since, _ = time.Parse(time.RFC3339, second) // zero: unknown
	return pid, since
}
