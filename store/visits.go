package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"

	"nightfloor/survey"
)

// AddVisit stores a visit. One that is there already stays as it is: after a
// failure that may have come too late nobody knows. ErrUnknown: there is no such
// survey; ErrInvalid: no setup was asked for.
func (s *Store) AddVisit(ctx context.Context, v survey.Visit) error {
	if v.Asked == (survey.Setup{}) {
		return fmt.Errorf("store visit: %w: it asks for no setup; this is a mistake in nightfloor, please report it", ErrInvalid)
	}
	return s.write(ctx, "store visit", func(tx *sql.Tx) error {
		asked, err := idOfSetup(ctx, tx, v.Asked)
		if err != nil {
			return err
		}
		reached, err := idOfSetup(ctx, tx, v.Reached)
		if err != nil {
			return err
		}
		var bearing any
		if v.Bearing.Known {
			bearing = v.Bearing.Deg
		}
		var there int
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM visits WHERE survey = ? AND visit = ?`, v.Survey, v.Number).Scan(&there); err != nil || there > 0 {
			return err
		}
		return addToSurvey(tx.ExecContext(ctx, `
			INSERT INTO visits (survey, visit, round, asked, reached, bearing_deg, start_ms, said)
			SELECT id, ?, ?, ?, ?, ?, ?, ? FROM surveys WHERE id = ?`,
			v.Number, v.Round, asked, reached, bearing, v.Start.UnixMilli(), v.Said, v.Survey))(v.Survey)
	})
}

// Visits gives the visits of a survey, 0 for all, by survey and number. Surveys
// recorded before schema 3, and imports, have none.
func (s *Store) Visits(ctx context.Context, id int64) ([]survey.Visit, error) {
	var all []survey.Visit
	err := s.read(ctx, "read visits", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			v := survey.Visit{Survey: integer(row[0]), Number: int(integer(row[1])), Round: int(integer(row[2])),
				Start: instant(row[3]), Said: text(row[4]), Asked: setupOf(row[6:9]), Reached: setupOf(row[9:12])}
			if deg, ok := row[5].(float64); ok {
				v.Bearing = survey.BearingOf(deg)
			}
			all = append(all, v)
			return nil
		}, `
			SELECT v.survey, v.visit, v.round, v.start_ms, v.said, v.bearing_deg,
				a.antenna, a.placement, a.bearing_deg, ifnull(r.antenna, ''), ifnull(r.placement, ''), r.bearing_deg
			FROM visits v JOIN setups a ON a.id = v.asked LEFT JOIN setups r ON r.id = v.reached
			WHERE ?1 IN (0, v.survey) ORDER BY v.survey, v.visit`, id)
	})
	return all, err
}
