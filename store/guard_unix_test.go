//go:build unix

package store

import (
	"os"
	"syscall"
	"testing"
)

// TestCannotLook: where the database cannot be opened for a look, nothing is said to have happened
// to it, and the next sweep is stored once it can be.
func TestCannotLook(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n, _, stored := afterSweeps(t, s, id)
	must(t, os.Chtimes(s.path, evening, evening)) // asks for a look
	var was syscall.Rlimit
	must(t, syscall.Getrlimit(syscall.RLIMIT_NOFILE, &was))
	none := was
	none.Cur = 3
	must(t, syscall.Setrlimit(syscall.RLIMIT_NOFILE, &none))
	err := s.AddSweep(t.Context(), n.sweep(id, stored))
	must(t, syscall.Setrlimit(syscall.RLIMIT_NOFILE, &was))
	if !isErr(err, ErrDisk) || isErr(err, ErrLost) {
		t.Errorf("%v, want ErrDisk, which may pass", err)
	}
	must(t, s.AddSweep(t.Context(), n.sweep(id, stored)))
	must(t, s.Check(t.Context()))
	if got := len(all(t, s, Filter{})); got != stored+1 {
		t.Errorf("%d sweeps, want %d", got, stored+1)
	}
}
