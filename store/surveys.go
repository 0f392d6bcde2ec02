package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"time"

	"nightfloor/survey"
)

// BeginSurvey stores a survey with all that is known beforehand and gives its
// number; sv.ID, End and Ending are not looked at.
func (s *Store) BeginSurvey(ctx context.Context, sv survey.Survey) (id int64, err error) {
	err = s.write(ctx, "begin survey", func(c change) error {
		id, err = insertSurvey(c, sv)
		return err
	})
	if err != nil {
		return 0, err
	}
	return id, nil
}

// insertSurvey stores a survey.
func insertSurvey(c change, sv survey.Survey) (int64, error) {
	first, err := c.setup(sv.First)
	if err != nil {
		return 0, err
	}
	return c.insert(`
		INSERT INTO surveys (kind, simulated, site, locator, mains_hz, surroundings, plan, first_setup,
			receiver, seed, version, start_ms, ending)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		sv.Kind, bit(sv.Simulated), sv.Site.Name, sv.Site.Locator, float64(sv.Site.MainsHz), sv.Site.Surroundings,
		sv.Plan, first, sv.Receiver, int64(sv.Seed), sv.Version, milliseconds(sv.Start), sv.Ending)
}

// EndSurvey notes when and how a survey ended. ErrUnknown: there is no such
// survey.
func (s *Store) EndSurvey(ctx context.Context, id int64, at time.Time, ending string) error {
	return s.write(ctx, fmt.Sprintf("end survey %d", id), func(c change) error {
		return c.runOne(`UPDATE surveys SET end_ms = ?, ending = ? WHERE id = ?`, milliseconds(at), ending, id)
	})
}

// Surveys gives all surveys in the order in which they were begun. That of
// imports has Start and End from its recordings, zero while it has none.
func (s *Store) Surveys(ctx context.Context) ([]survey.Survey, error) {
	return list(ctx, s, "read surveys", surveyOf, `
		SELECT v.id, v.kind, v.simulated, v.site, v.locator, v.mains_hz, v.surroundings, v.plan,
			ifnull(s.antenna, ''), ifnull(s.placement, ''), s.bearing_deg,
			v.receiver, v.seed, v.version, v.start_ms, v.end_ms, v.ending
		FROM surveys v LEFT JOIN setups s ON s.id = v.first_setup ORDER BY v.id`)
}

// surveyOf reads a row of Surveys.
func surveyOf(row []driver.Value) survey.Survey {
	return survey.Survey{
		ID: integer(row[0]), Kind: text(row[1]), Simulated: integer(row[2]) == 1,
		Site: survey.Site{Name: text(row[3]), Locator: text(row[4]),
			MainsHz: survey.Hz(float(row[5])), Surroundings: text(row[6])},
		Plan: text(row[7]), First: setupOf(row[8:11]),
		Receiver: text(row[11]), Seed: uint64(integer(row[12])), Version: text(row[13]),
		Start: instant(row[14]), End: instant(row[15]), Ending: text(row[16]),
	}
}
