//go:build !linux

package lock

// An inodeLock is that of a database's own file. There is none on this system: flock(2), where
// there is one, locks SQLite out. The lock beside the file holds as long as nobody removes it,
// and for one name of the file.
type inodeLock struct{}

func lockInode(string) (*inodeLock, error) { return nil, nil }

func (*inodeLock) unlock() error { return nil }

// Elsewhere gives nil: nobody can know on this system.
func Elsewhere(string) error { return nil }
