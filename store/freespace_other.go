//go:build !linux && !darwin && !freebsd

package store

// freeSpace is not known on this system.
func freeSpace(string) (free uint64, known bool) { return 0, false }
