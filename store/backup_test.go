package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A backup holds what was stored when it was made, what stands in the log too, and is whole; the one who
// records goes on.
func TestBackup(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	fillWith(t, s, id, 6, false)
	if err := os.Chmod(s.Path(), 0o640); err != nil {
		t.Fatal(err)
	}
	release, err := s.LockWriter(evening)
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	if info, err := os.Stat(s.Path() + "-wal"); err != nil || info.Size() == 0 {
		t.Fatalf("nothing is in the log: %v", err)
	}
	reader, err := OpenReadOnly(t.Context(), s.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	folder := t.TempDir()
	path := filepath.Join(folder, "copy.db")
	if err := reader.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	n := night{seeded(), 2, 3, 20}
	if err := s.AddSweep(t.Context(), n.sweep(id, 6)); err != nil {
		t.Error(err)
	}
	copied, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for setup, sweeps := range setupsBy(t, copied, id) {
		if sweeps != 3 {
			t.Errorf("%v: %d sweeps", setup, sweeps)
		}
	}
	if err := errors.Join(copied.Check(t.Context()), copied.Close()); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o640 && os.PathSeparator == '/' {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	// What is there stays, and is not added to.
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := reader.Backup(t.Context(), path); !errors.Is(err, os.ErrExist) || !strings.Contains(err.Error(), "is left as it is") {
		t.Error(err)
	}
	if after, err := os.ReadFile(path); err != nil || string(after) != string(before) {
		t.Errorf("it was written over: %v", err)
	}
	if err := reader.Backup(t.Context(), s.Path()); !errors.Is(err, os.ErrExist) {
		t.Error(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "gone.db-wal"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := reader.Backup(t.Context(), filepath.Join(folder, "gone.db")); !errors.Is(err, os.ErrExist) {
		t.Error(err)
	}
	if err := reader.Backup(t.Context(), filepath.Join(folder, "none", "x.db")); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	stopped, stop := context.WithCancel(t.Context())
	stop()
	if err := reader.Backup(stopped, filepath.Join(folder, "stopped.db")); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if left, err := filepath.Glob(filepath.Join(folder, ".n*")); err != nil || len(left) > 0 {
		t.Errorf("left: %v, %v", left, err)
	}
}

// A database with a figure that cannot be has no backup: the copy is looked through.
func TestBackupOfADamagedDatabase(t *testing.T) {
	s := openTemp(t)
	fillWith(t, s, begin(t, s), 2, false)
	if _, err := s.writer.ExecContext(t.Context(), "UPDATE readings SET start_ms = start_ms + 1 WHERE id = 1"); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "copy.db")
	err := s.Backup(t.Context(), path)
	if _, there := os.Stat(path); !errors.Is(err, ErrDamaged) || there == nil || strings.Contains(err.Error(), ".part") {
		t.Errorf("%v; the copy: %v", err, there)
	}
}
