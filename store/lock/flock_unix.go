//go:build unix && !solaris && !aix

package lock

import (
	"cmp"
	"errors"
	"os"
	"syscall"
)

// lockFile opens a file and takes its lock (flock(2)), which the system gives
// back when the process ends, however it ends. ErrLocked: another has it. The
// lock belongs to the open file, so a second one in this process is refused too.
func lockFile(path string) (*os.File, error) {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	for {
		err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if !errors.Is(err, syscall.EINTR) {
			break
		}
	}
	if errors.Is(err, syscall.EWOULDBLOCK) {
		err = ErrLocked
	}
	if err != nil {
		return nil, cmp.Or(err, file.Close())
	}
	return file, nil
}

// unlockFile empties the file and gives its lock back. The file is not removed:
// another process may have opened it to wait for the lock of a file that then
// has no name.
func unlockFile(file *os.File) error {
	return cmp.Or(file.Truncate(0), file.Close())
}
