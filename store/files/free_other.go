//go:build !linux && !darwin && !freebsd

package files

// Free is not known on this system.
func Free(string) (free uint64, known bool) { return 0, false }
