//go:build unix && !linux

package rtlsdr

import "golang.org/x/sys/unix"

// replace makes file descriptor to another name of from.
func replace(from, to int) error { return unix.Dup2(from, to) }
