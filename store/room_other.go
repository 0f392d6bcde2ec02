//go:build !linux && !darwin && !freebsd

package store

// room is not known on this system.
func room(string) (free uint64, known bool) { return 0, false }
