package store

import (
	"context"
	"fmt"
	"time"

	"nightfloor/survey"
)

func surveyColumns(v *survey.Survey) columns {
	return columns{{"id", &v.ID}, {"kind", &v.Kind}, {"simulated", &v.Simulated}, {"site", &v.Site.Name}, {"locator", &v.Site.Locator},
		{"mains_hz", &v.Site.MainsHz}, {"surroundings", &v.Site.Surroundings}, {"plan", &v.Plan}, {"first_setup", &v.First},
		{"receiver", &v.Receiver}, {"seed", &v.Seed}, {"version", &v.Version}, {"start_ms", optional{new(!v.Start.IsZero()), &v.Start}},
		{"end_ms", optional{new(!v.End.IsZero()), &v.End}}, {"ending", &v.Ending},
		{"droop_calibration", optional{new(v.DroopCalibration != 0), &v.DroopCalibration}}}
}

// BeginSurvey stores a survey with all that is known beforehand and gives its
// number; sv.ID is not looked at.
func (s *Store) BeginSurvey(ctx context.Context, sv survey.Survey) (id int64, err error) {
	return s.addOne(ctx, "begin survey", "surveys", surveyColumns(&sv)[1:])
}

// EndSurvey notes when and how a survey ended; it never ends before it began, wherever the clock
// stood. ErrUnknown: there is no such survey.
func (s *Store) EndSurvey(ctx context.Context, id int64, at time.Time, ending string) error {
	s.lookOnceMore()
	return s.write(ctx, fmt.Sprintf("end survey %d", id), func(c change) error {
		return c.runOne(`UPDATE surveys SET end_ms = max(?1, ifnull(start_ms, ?1)), ending = ?2 WHERE id = ?3`, at.UnixMilli(), ending, id)
	})
}

// Surveys gives all surveys in the order in which they were begun. Those of
// imports have Start and End from their recordings, zero while they have none.
func (s *Store) Surveys(ctx context.Context) ([]survey.Survey, error) {
	return list(ctx, s, "read surveys", func(v *survey.Survey) columns {
		return append(surveyColumns(v), column{"name", optional{new(bool), &v.Name}})
	}, `FROM surveys LEFT JOIN survey_names ON survey = id ORDER BY id`)
}

func visitColumns(v *survey.Visit) columns {
	return columns{{"survey", &v.Survey}, {"visit", &v.Number}, {"round", &v.Round}, {"asked", &v.Asked}, {"reached", &v.Reached},
		{"bearing_deg", &v.Bearing}, {"start_ms", &v.Start}, {"said", &v.Said}, {"feed_lines", &v.Wiring.FeedLines}, {"idle", &v.Wiring.Idle},
		{"chokes", &v.Wiring.Chokes}}
}

// AddVisit stores a visit. One that is there already stays as it is: after a
// failure that may have come too late nobody knows. ErrUnknown: there is no such
// survey; ErrInvalid: no setup was asked for.
func (s *Store) AddVisit(ctx context.Context, v survey.Visit) error {
	if v.Asked == (survey.Setup{}) {
		return fmt.Errorf("store visit: %w: it asks for no setup; %s", ErrInvalid, mistake)
	}
	return s.write(ctx, "store visit", func(c change) error {
		row := visitColumns(&v)
		args, err := c.values(row)
		if err != nil {
			return err
		}
		_, err = c.run(row.insert("visits", "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING"), args...)
		return refused(err, "visits", row)
	})
}

// Visits gives the visits of a survey, 0 for all, by survey and number. Surveys
// recorded before schema 3, and imports, have none.
func (s *Store) Visits(ctx context.Context, id int64) ([]survey.Visit, error) {
	return list(ctx, s, "read visits", visitColumns, `FROM visits WHERE ?1 IN (0, survey) ORDER BY survey, visit`, id)
}
