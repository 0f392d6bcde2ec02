package store

import (
	"context"
	"database/sql"
	"fmt"
)

// A Place is where a sweep stands in its survey; both count from 1.
type Place struct{ Round, Visit int }

// Regroup gives sweeps of a survey, by their numbers, new rounds and visits,
// all or none: imports may arrive in any order. Sweeps not named keep theirs.
// ErrUnknown: a sweep is not there, or of another survey.
func (s *Store) Regroup(ctx context.Context, survey int64, places map[int64]Place) error {
	what := fmt.Sprintf("regroup survey %d", survey)
	return s.write(ctx, what, func(tx *sql.Tx) (err error) {
		update, err := tx.PrepareContext(ctx, `UPDATE sweeps SET round = ?, visit = ? WHERE id = ? AND survey = ?`)
		if err != nil {
			return err
		}
		defer func() { err = first(err, update.Close()) }()
		for id, p := range places {
			if err := one(update.ExecContext(ctx, p.Round, p.Visit, id, survey)); err != nil {
				return fmt.Errorf("sweep %d: %w", id, err)
			}
		}
		return nil
	})
}
