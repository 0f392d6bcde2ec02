package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"nightfloor/store/files"
	"nightfloor/store/rename"
)

// RenameSetups gives setups other names in all surveys, all or none, and tells in which surveys
// there are sweeps through them. Under a name that another setup has the two become one. ErrUnknown:
// there is no such setup; ErrApart: a survey that was recorded has both in one round. Rounds of
// imports are to be put in order anew.
func (s *Store) RenameSetups(ctx context.Context, all []rename.Renaming) (surveys []int64, err error) {
	err = s.write(ctx, "rename setups", func(c change) (err error) {
		err = c.resealed(func(touched *seals) error {
			surveys, err = rename.Change{Context: ctx, Tx: c.tx, Touch: touched.touch}.Setups(all)
			return err
		})
		if errors.Is(err, sql.ErrNoRows) {
			err = ErrUnknown
		}
		return err
	})
	return surveys, err
}

// RemoveSurvey removes a survey with all that belongs to it, and forgets its recordings, which can
// then be imported anew. The room in the file is free for what is stored next (Compact gives it
// back). ErrUnknown: there is no such survey.
func (s *Store) RemoveSurvey(ctx context.Context, id int64) error {
	return s.write(ctx, fmt.Sprintf("remove survey %d", id), func(c change) error {
		if err := c.runOne(`DELETE FROM surveys WHERE id = ?`, id); err != nil {
			return err
		}
		_, err := c.run(`DELETE FROM recordings WHERE NOT EXISTS (SELECT 1 FROM readings WHERE recording = recordings.id)`)
		return first(err, c.dropCurves(), s.guard.regrouped(c))
	})
}

// Compact writes the database anew without the room that is free in it, and gives that back to the
// disk. Meanwhile it needs the room of what is left once more, and nobody else may write it. ErrFull:
// there is not that much; nothing is changed then.
func (s *Store) Compact(ctx context.Context) error {
	what := "make " + s.path + " smaller"
	if s.writer == nil {
		return fmt.Errorf("%s: %w; open it for writing", what, ErrReadOnly)
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	if err := s.intact(ctx); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	var left uint64
	err := s.writer.QueryRowContext(ctx, `SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size`).Scan(&left)
	if err != nil {
		return explain(what, err)
	}
	// SQLite writes all of it into a file of its own first, and from there into the log.
	if free, known := files.Free(s.path); known && free < 2*left+acceptFrom {
		return fmt.Errorf("%s: %w: it takes %d MB, and %d MB are free; make room", what, ErrFull, (2*left+acceptFrom)>>20, free>>20)
	}
	if _, err := s.writer.ExecContext(ctx, "VACUUM"); err != nil {
		return explain(what, err)
	}
	s.shrinkLog(ctx)
	return nil
}
