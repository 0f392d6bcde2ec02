package store

import (
	"context"
	"database/sql/driver"

	"nightfloor/survey"
)

// AddVisit stores a visit. One that is there already stays as it is: after a
// failure that may have come too late nobody knows. ErrUnknown: there is no such
// survey; ErrInvalid: no setup was asked for.
func (s *Store) AddVisit(ctx context.Context, v survey.Visit) error {
	return s.write(ctx, "store visit", func(c change) error {
		asked, err := c.setup(v.Asked)
		if err != nil {
			return err
		}
		reached, err := c.setup(v.Reached)
		if err != nil {
			return err
		}
		_, err = c.run(`
			INSERT INTO visits (survey, visit, round, asked, reached, bearing_deg, start_ms, said)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
			v.Survey, v.Number, v.Round, asked, reached, degrees(v.Bearing), v.Start.UnixMilli(), v.Said)
		return err
	})
}

// Visits gives the visits of a survey, 0 for all, by survey and number. Surveys
// recorded before schema 3, and imports, have none.
func (s *Store) Visits(ctx context.Context, id int64) ([]survey.Visit, error) {
	return list(ctx, s, "read visits", func(row []driver.Value) survey.Visit {
		return survey.Visit{Survey: integer(row[0]), Number: int(integer(row[1])), Round: int(integer(row[2])),
			Start: instant(row[3]), Said: text(row[4]), Bearing: bearingOf(row[5]), Asked: setupOf(row[6:9]), Reached: setupOf(row[9:12])}
	}, `
		SELECT v.survey, v.visit, v.round, v.start_ms, v.said, v.bearing_deg,
			a.antenna, a.placement, a.bearing_deg, ifnull(r.antenna, ''), ifnull(r.placement, ''), r.bearing_deg
		FROM visits v JOIN setups a ON a.id = v.asked LEFT JOIN setups r ON r.id = v.reached
		WHERE ?1 IN (0, v.survey) ORDER BY v.survey, v.visit`, id)
}
