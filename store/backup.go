package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"

	"nightfloor/store/files"
	"nightfloor/survey"
)

// Backup copies all that is stored into a new database at path, as it is at one moment, also while
// another process records: that one is not held up. The copy is written beside its place, looked
// through as Check does and put onto the disk before it gets its name; where anything fails there is
// none. ErrStored: something is at path already, and stays as it is.
func (s *Store) Backup(ctx context.Context, path string) (err error) {
	what := "back up " + s.path
	fails := func(err error) error {
		return fmt.Errorf("%s: write %s: %w; name a file in a folder that you may write", what, path, survey.FileTrouble(err))
	}
	info, err := os.Stat(s.path)
	if err != nil {
		return fmt.Errorf("%s: %w", what, survey.FileTrouble(err))
	}
	if err := vacant(path); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return fails(err)
	}
	beside := filepath.Join(filepath.Dir(path), fmt.Sprintf(".nightfloor-%016x.part", rand.Uint64()))
	defer func() {
		for _, file := range Files(beside) {
			os.Remove(file) // what is there of a copy that failed
		}
	}()
	// An empty file that nobody else may read: SQLite would make one that others may.
	file, err := os.OpenFile(beside, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err == nil {
		err = file.Close()
	}
	if err != nil {
		return fails(err)
	}
	if _, err := s.reader.ExecContext(ctx, "VACUUM INTO ?", beside); err != nil {
		return explain(what+" into "+path, err)
	}
	copied, err := OpenReadOnly(ctx, beside)
	if err == nil {
		err = first(copied.Check(ctx), copied.Close())
	}
	if err != nil {
		wrong := survey.Told("the copy is not whole, and was removed", err)
		return fmt.Errorf("%s: %w; see with nightfloor database check whether the database is", what, wrong)
	}
	if err := files.Keep(beside, info.Mode().Perm()); err != nil {
		return fails(err)
	}
	if err := vacant(path); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	if err := os.Rename(beside, path); err != nil {
		return fails(err)
	}
	return nil
}

// vacant tells why a backup cannot have a name: something has it, or a database that is gone left
// files of that name behind, which SQLite would take for the backup's.
func vacant(path string) error {
	for _, file := range Files(path) {
		if _, err := os.Lstat(file); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s is there already, and is left as it is (%w); name another file", file, ErrStored)
		}
	}
	return nil
}
