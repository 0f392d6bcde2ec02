package store

import (
	"context"

	"nightfloor/survey"
)

func visitColumns(v *survey.Visit) columns {
	return columns{{"survey", &v.Survey}, {"visit", &v.Number}, {"round", &v.Round}, {"asked", &v.Asked}, {"reached", &v.Reached},
		{"bearing_deg", &v.Bearing}, {"start_ms", &v.Start}, {"said", &v.Said}}
}

// AddVisit stores a visit. One that is there already stays as it is: after a
// failure that may have come too late nobody knows. ErrUnknown: there is no such
// survey; ErrInvalid: no setup was asked for.
func (s *Store) AddVisit(ctx context.Context, v survey.Visit) error {
	return s.write(ctx, "store visit", func(c change) error {
		_, err := addAll(c, "visits", " WHERE true ON CONFLICT DO NOTHING", []survey.Visit{v},
			func(_ int, v *survey.Visit) columns { return visitColumns(v) })
		return err
	})
}

// Visits gives the visits of a survey, 0 for all, by survey and number. Surveys
// recorded before schema 3, and imports, have none.
func (s *Store) Visits(ctx context.Context, id int64) ([]survey.Visit, error) {
	return list(ctx, s, "read visits", visitColumns, `FROM visits WHERE ?1 IN (0, survey) ORDER BY survey, visit`, id)
}
