//go:build linux || darwin || freebsd

package files

import "golang.org/x/sys/unix"

// Free gives how many bytes are free on the disk that a file lies on (statfs(2)).
func Free(path string) (free uint64, known bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil {
		return 0, false
	}
	blocks := int64(s.Bavail) // below 0 on some systems where only root has room left
	return uint64(max(0, blocks)) * uint64(s.Bsize), true
}
