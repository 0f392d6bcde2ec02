//go:build linux || darwin || freebsd || netbsd

package rtlsdr

import (
	"fmt"
	"os"
	"runtime/debug"
	"strings"

	"golang.org/x/sys/unix"
)

// CatchDriverLines turns the process's standard error (file descriptor 2) into
// a pipe that only this package reads, and gives the real one, which the caller
// must write to from now on. What the program says of its own end still goes
// there. It is called at most once, before Open.
func CatchDriverLines() (real *os.File, err error) {
	fd, err := unix.Dup(2)
	if err != nil {
		return nil, fmt.Errorf("catch the driver's lines: %w", err)
	}
	unix.CloseOnExec(fd)
	real = os.NewFile(uintptr(fd), "stderr")
	if err := debug.SetCrashOutput(real, debug.CrashOptions{}); err != nil {
		return nil, fmt.Errorf("catch the driver's lines: %w", err)
	}
	var ends [2]int
	if err := unix.Pipe(ends[:]); err != nil {
		return nil, fmt.Errorf("catch the driver's lines: %w", err)
	}
	unix.CloseOnExec(ends[0])
	if err := unix.SetNonblock(ends[0], true); err != nil {
		return nil, fmt.Errorf("catch the driver's lines: %w", err)
	}
	// A driver that says more than anybody reads must not stand still for it.
	if err := unix.SetNonblock(ends[1], true); err != nil {
		return nil, fmt.Errorf("catch the driver's lines: %w", err)
	}
	if err := replace(ends[1], 2); err != nil {
		return nil, fmt.Errorf("catch the driver's lines: %w", err)
	}
	unix.Close(ends[1])
	standardError.fd, standardError.caught = ends[0], true
	return real, nil
}

// read gives what the driver has said since it was last asked.
func (l *driverOutput) read() []string {
	if !l.caught {
		return nil
	}
	var said []byte
	var buf [4096]byte
	for {
		n, err := unix.Read(l.fd, buf[:])
		if n <= 0 || err != nil {
			break
		}
		said = append(said, buf[:n]...)
	}
	return strings.FieldsFunc(string(said), func(r rune) bool { return r == '\n' || r == '\r' })
}
