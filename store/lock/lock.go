// Package lock holds the lock of the one process that may record into a database; others may
// still read it, note events or import. It is on the database's own file where the system can
// do that, and on one beside it, its path with Suffix behind, in which stand the process id and
// the time; that one stays behind empty.
package lock

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"nightfloor/survey"
)

// ErrLocked tells that another process has the lock.
var ErrLocked = errors.New("another record is writing it")

// Suffix follows a database's path in that of its lock.
const Suffix = ".lock"

// held are the locks of this process. The garbage collector closes a file that nothing
// refers to, and its lock would be gone.
var held sync.Map // of *Lock

// A Lock is held until Release or the process's end.
type Lock struct {
	beside *os.File
	inode  *inodeLock
}

// Take takes the lock of the database at path. ErrLocked: another process has it, which the
// error names; one that has died has not.
func Take(path string) (*Lock, error) {
	file, err := lockFile(path + Suffix)
	var inode *inodeLock
	if err == nil {
		if inode, err = lockInode(path); err != nil {
			err = cmp.Or(err, file.Close())
		}
	}
	if errors.Is(err, ErrLocked) {
		return nil, fmt.Errorf("%w (%s)", err, holder(path+Suffix))
	}
	if err != nil {
		return nil, err
	}
	l := &Lock{file, inode}
	held.Store(l, true)
	return l, nil
}

// holder says who wrote a lock file.
func holder(path string) string {
	pid, at := readLock(path)
	switch {
	case pid == 0:
		return "process unknown"
	case at.IsZero():
		return fmt.Sprintf("process %d", pid)
	}
	return fmt.Sprintf("process %d, since %s", pid, survey.LocalTime(at))
}

// Sign writes process id and time as a line of text, for the others' message.
func (l *Lock) Sign(since time.Time) error {
	line := fmt.Sprintf("%d %s\n", os.Getpid(), since.UTC().Format(time.RFC3339))
	if err := l.beside.Truncate(0); err != nil {
		return err
	}
	_, err := l.beside.WriteAt([]byte(line), 0)
	return err
}

// Release gives the lock back.
func (l *Lock) Release() error {
	held.Delete(l)
	return cmp.Or(l.inode.unlock(), unlockFile(l.beside))
}

// readLock reads what Sign wrote; zeros where it cannot.
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
