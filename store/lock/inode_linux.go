package lock

import (
	"errors"
	"fmt"
	"os"
	"slices"

	"golang.org/x/sys/unix"
)

// networkFiles are file systems on which flock(2) locks the whole file as fcntl(2) does, and
// would lock SQLite out (statfs(2): NFS, SMB, CIFS, SMB2; 9P, by which virtual machines show
// the host's folders).
var networkFiles = []uint32{unix.NFS_SUPER_MAGIC, unix.SMB_SUPER_MAGIC, unix.CIFS_SUPER_MAGIC, unix.SMB2_SUPER_MAGIC, unix.V9FS_MAGIC}

// onNetwork tells whether a kind of file system is one of networkFiles. Where the system has words
// of 32 bits some kinds are negative.
func onNetwork(kind int64) bool { return slices.Contains(networkFiles, uint32(kind)) }

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
	if onNetwork(int64(s.Type)) {
		return nil, nil
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

// Elsewhere gives ErrLocked where a record writes the file at path under another of its
// names: each name has a write-ahead log of its own, and two would destroy the database.
// Under its own name it has the lock beside the file as well.
func Elsewhere(path string) error {
	var s unix.Stat_t
	if err := unix.Stat(path, &s); err != nil || s.Nlink < 2 {
		return nil // opening it tells what is wrong
	}
	lock, err := lockInode(path)
	switch {
	case errors.Is(err, ErrLocked) && !besideHeld(path):
		return fmt.Errorf("%w under another name of the same file (it has %d); use that one", err, s.Nlink)
	case err != nil:
		return nil
	}
	return lock.unlock()
}

// besideHeld tells whether a process has the lock beside the database at path.
func besideHeld(path string) bool {
	if _, err := os.Stat(path + Suffix); err != nil {
		return false
	}
	file, err := lockFile(path + Suffix)
	if err == nil {
		file.Close() // and its lock is free again
	}
	return errors.Is(err, ErrLocked)
}
