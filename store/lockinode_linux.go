package store

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"
)

// networkFiles are file systems on which flock(2) locks the whole file as fcntl(2) does, and
// would lock SQLite out (statfs(2): NFS, SMB, CIFS, SMB2).
var networkFiles = []int64{0x6969, 0x517b, 0xff534d42, 0xfe534d42}

// An inodeLock is the lock of a database's own file (flock(2)), whatever names it has. On Linux
// SQLite's locks (fcntl(2)) are others. Its descriptor is never closed: closing any descriptor
// of a file drops the locks that SQLite has on it in this process.
type inodeLock struct{ file int }

// lockInode takes the lock of the file at path. ErrLocked: another has it.
func lockInode(path string) (*inodeLock, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil {
		return nil, err
	}
	for _, kind := range networkFiles {
		if int64(s.Type) == kind {
			return nil, nil
		}
	}
	file, err := unix.Open(path, unix.O_RDONLY|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	for {
		err = unix.Flock(file, unix.LOCK_EX|unix.LOCK_NB)
		if !errors.Is(err, unix.EINTR) {
			break
		}
	}
	if errors.Is(err, unix.EWOULDBLOCK) {
		err = ErrLocked
	}
	return &inodeLock{file}, err
}

// unlock gives the lock back.
func (l *inodeLock) unlock() error {
	if l == nil {
		return nil
	}
	return unix.Flock(l.file, unix.LOCK_UN)
}

// recordedElsewhere gives ErrLocked where a record writes the file at path under another of its
// names: each name has a write-ahead log of its own, and two would destroy the database.
func recordedElsewhere(path string) error {
	var s unix.Stat_t
	if err := unix.Stat(path, &s); err != nil || s.Nlink < 2 {
		return nil // opening it tells what is wrong
	}
	if !noWriter(path) {
		return nil
	}
	lock, err := lockInode(path)
	if errors.Is(err, ErrLocked) {
		return fmt.Errorf("open database %s: %w under another name of the same file (it has %d); use that one", path, err, s.Nlink)
	}
	if err != nil {
		return nil
	}
	return lock.unlock()
}
