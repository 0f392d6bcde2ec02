//go:build unix

package rtlsdr

import (
	"errors"
	"fmt"
	"os"
	"runtime/debug"

	"golang.org/x/sys/unix"
)

// CatchDriverLines turns the process's standard error (file descriptor 2) into
// a pipe that only this package reads, and gives the real one, which the caller
// must write to from now on. What the program says of its own end still goes
// there. It is called at most once, before Open.
func CatchDriverLines() (real *os.File, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("catch the driver's lines: %w", err)
		}
	}()
	fd, err := unix.Dup(2)
	if err != nil {
		return nil, err
	}
	unix.CloseOnExec(fd)
	real = os.NewFile(uintptr(fd), "stderr")
	if err := debug.SetCrashOutput(real, debug.CrashOptions{}); err != nil {
		return nil, err
	}
	var ends [2]int
	if err := unix.Pipe(ends[:]); err != nil {
		return nil, err
	}
	unix.CloseOnExec(ends[0])
	// A driver that says more than anybody reads must not stand still for it.
	if err := errors.Join(unix.SetNonblock(ends[0], true), unix.SetNonblock(ends[1], true)); err != nil {
		return nil, err
	}
	if err := replace(ends[1], 2); err != nil {
		return nil, err
	}
	unix.Close(ends[1])
	driverSaid = func() string { return readAll(ends[0]) }
	return real, nil
}

// readAll gives what can be read now.
func readAll(fd int) string {
	var said []byte
	var buf [4096]byte
	for {
		n, err := unix.Read(fd, buf[:])
		if n <= 0 || err != nil {
			return string(said)
		}
		said = append(said, buf[:n]...)
	}
}
