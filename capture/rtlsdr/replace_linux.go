package rtlsdr

import "golang.org/x/sys/unix"

// replace makes file descriptor to another name of from (dup3(2): dup2 is not
// there on every kind of machine).
func replace(from, to int) error { return unix.Dup3(from, to, 0) }
