package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"

	"nightfloor/survey"
)

// AddGap stores a stretch without readings. ErrUnknown: there is no such survey.
func (s *Store) AddGap(ctx context.Context, gap survey.Gap) error {
	return s.write(ctx, "store gap", func(tx *sql.Tx) error {
		return addToSurvey(tx.ExecContext(ctx,
			`INSERT INTO gaps (survey, from_ms, to_ms, why) SELECT id, ?, ?, ? FROM surveys WHERE id = ?`,
			gap.From.UnixMilli(), gap.To.UnixMilli(), gap.Why, gap.Survey))(gap.Survey)
	})
}

// Gaps gives the gaps of a survey, 0 for all, by survey and beginning.
func (s *Store) Gaps(ctx context.Context, id int64) ([]survey.Gap, error) {
	var all []survey.Gap
	err := s.read(ctx, "read gaps", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			all = append(all, survey.Gap{Survey: integer(row[0]), From: instant(row[1]), To: instant(row[2]), Why: text(row[3])})
			return nil
		}, `SELECT survey, from_ms, to_ms, why FROM gaps WHERE ?1 IN (0, survey) ORDER BY survey, from_ms, id`, id)
	})
	return all, err
}

// addToSurvey judges an insert that takes its survey's number from the table
// of surveys: no row means no such survey.
func addToSurvey(done sql.Result, err error) func(id int64) error {
	return func(id int64) error {
		if err != nil {
			return err
		}
		if n, err := done.RowsAffected(); err != nil || n == 1 {
			return err
		}
		return fmt.Errorf("survey %d: %w; begin the survey first", id, ErrUnknown)
	}
}
