//go:build !unix || solaris || aix

package lock

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
)

// lockFile makes a file that must not exist; its being there is the lock. One
// whose process is gone is taken over. ErrLocked: another has it.
func lockFile(path string) (*os.File, error) {
	const flags = os.O_RDWR | os.O_CREATE | os.O_EXCL
	file, err := os.OpenFile(path, flags, 0o644)
	if !errors.Is(err, fs.ErrExist) {
		return file, err
	}
	// Where there is no flock, FindProcess fails for a process that is gone.
	if pid, _ := readLock(path); pid != 0 {
		if _, err := os.FindProcess(pid); err == nil {
			return nil, ErrLocked
		}
	}
	if err := os.Remove(path); err != nil {
		return nil, err
	}
	return os.OpenFile(path, flags, 0o644)
}

// unlockFile removes the file, and with it the lock.
func unlockFile(file *os.File) error {
	return cmp.Or(file.Close(), os.Remove(file.Name()))
}
