//go:build unix

package store

import (
	"os"
	"syscall"
	"testing"

	"nightfloor/survey"
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

// TestCannotLookAfterwards: a sweep that is on the disk is stored, also where the look behind it
// comes to nothing.
func TestCannotLookAfterwards(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	afterSweeps(t, s, id)
	var was syscall.Rlimit
	must(t, syscall.Getrlimit(syscall.RLIMIT_NOFILE, &was))
	none := was
	none.Cur = 3
	err := s.write(t.Context(), "store event", func(c change) error {
		_, err := c.add("events", eventColumns(&survey.Event{Survey: id, At: evening, Text: "kettle"}))
		return first(err, os.Chtimes(s.path, evening, evening), syscall.Setrlimit(syscall.RLIMIT_NOFILE, &none))
	})
	must(t, syscall.Setrlimit(syscall.RLIMIT_NOFILE, &was))
	if err != nil {
		t.Errorf("stored, and %v", err)
	}
	if events, err := s.Events(t.Context(), id); err != nil || len(events) != 1 {
		t.Errorf("%v, %v, want one event", events, err)
	}
	must(t, s.EndSurvey(t.Context(), id, evening, ""))
}
