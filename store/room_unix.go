//go:build linux || darwin || freebsd

package store

import "golang.org/x/sys/unix"

// room gives how many bytes are free on the disk that a file lies on (statfs(2)).
func room(path string) (free uint64, known bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil || s.Bavail < 0 {
		return 0, false
	}
	return uint64(s.Bavail) * uint64(s.Bsize), true
}
