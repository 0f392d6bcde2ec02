package store

import (
	"context"

	"nightfloor/store/files"
	"nightfloor/survey"
)

// Backup copies all that is stored into a new database at path, as it is at one moment, also while
// another process records: that one is not held up. The copy is looked through as Check does before it
// gets its name. fs.ErrExist: something is at path already, and stays as it is.
func (s *Store) Backup(ctx context.Context, path string) error {
	return explain("back up "+s.path, files.Make(path, s.path, func(beside string) error {
		if _, err := s.reader.ExecContext(ctx, "VACUUM INTO ?", beside); err != nil {
			return err
		}
		copied, err := OpenReadOnly(ctx, beside)
		if err == nil {
			err = first(copied.Check(ctx), copied.Close())
		}
		if err != nil {
			return survey.Told("the copy is not whole, and was removed; see with nightfloor database check whether the database is", err)
		}
		return nil
	}))
}
