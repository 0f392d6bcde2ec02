package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"time"

	"nightfloor/survey"
)

// BeginSurvey stores a survey with all that is known beforehand and gives its
// number; sv.ID, End and Ending are not looked at.
func (s *Store) BeginSurvey(ctx context.Context, sv survey.Survey) (id int64, err error) {
	err = s.write(ctx, "begin survey", func(tx *sql.Tx) error {
		id, err = insertSurvey(ctx, tx, sv)
		return err
	})
	if err != nil {
		return 0, err
	}
	return id, nil
}

// insertSurvey stores a survey that has not ended.
func insertSurvey(ctx context.Context, tx *sql.Tx, sv survey.Survey) (int64, error) {
	first, err := idOfSetup(ctx, tx, sv.First)
	if err != nil {
		return 0, err
	}
	done, err := tx.ExecContext(ctx, `
		INSERT INTO surveys (kind, simulated, site, locator, mains_hz, surroundings, plan, first_setup,
			receiver, seed, version, start_ms, ending)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '')`,
		sv.Kind, bit(sv.Simulated), sv.Site.Name, sv.Site.Locator, float64(sv.Site.MainsHz), sv.Site.Surroundings,
		sv.Plan, first, sv.Receiver, int64(sv.Seed), sv.Version, milliseconds(sv.Start))
	if err != nil {
		return 0, err
	}
	return done.LastInsertId()
}

// EndSurvey notes when and how a survey ended. ErrUnknown: there is no such
// survey.
func (s *Store) EndSurvey(ctx context.Context, id int64, at time.Time, ending string) error {
	return s.write(ctx, fmt.Sprintf("end survey %d", id), func(tx *sql.Tx) error {
		done, err := tx.ExecContext(ctx, `UPDATE surveys SET end_ms = ?, ending = ? WHERE id = ?`,
			milliseconds(at), ending, id)
		return expectOneRow(done, err)
	})
}

// expectOneRow makes sure that a change met one row.
func expectOneRow(done sql.Result, err error) error {
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil || n == 1 {
		return err
	}
	return fmt.Errorf("%w; `nightfloor report quality` lists what there is", ErrUnknown)
}

// Surveys gives all surveys in the order in which they were begun. That of
// imports has Start and End from its recordings, zero while it has none.
func (s *Store) Surveys(ctx context.Context) ([]survey.Survey, error) {
	var all []survey.Survey
	err := s.read(ctx, "read surveys", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			all = append(all, surveyOf(row))
			return nil
		}, `
			SELECT v.id, v.kind, v.simulated, v.site, v.locator, v.mains_hz, v.surroundings, v.plan,
				ifnull(s.antenna, ''), ifnull(s.placement, ''), s.bearing_deg,
				v.receiver, v.seed, v.version, v.start_ms, v.end_ms, v.ending
			FROM surveys v LEFT JOIN setups s ON s.id = v.first_setup ORDER BY v.id`)
	})
	return all, err
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

// setupOf reads antenna, placement and bearing_deg.
func setupOf(row []driver.Value) survey.Setup {
	s := survey.Setup{Antenna: text(row[0]), Placement: text(row[1])}
	if deg, ok := row[2].(float64); ok {
		s.Bearing = survey.Bearing{Deg: deg, Known: true}
	}
	return s
}

// idOfSetup gives the number of a setup, which is stored if it is new; NULL
// for the empty setup.
func idOfSetup(ctx context.Context, tx *sql.Tx, s survey.Setup) (id any, err error) {
	if s == (survey.Setup{}) {
		return nil, nil
	}
	var bearing any
	if s.Bearing.Known {
		bearing = s.Bearing.Deg
	}
	return idOf(ctx, tx,
		`SELECT id FROM setups WHERE antenna = ? AND placement = ? AND ifnull(bearing_deg, -1) = ifnull(?, -1)`,
		`INSERT INTO setups (antenna, placement, bearing_deg) VALUES (?, ?, ?)`,
		s.Antenna, s.Placement, bearing)
}

// idOfSegment gives the number of a segment, which is stored if it is new.
func idOfSegment(ctx context.Context, tx *sql.Tx, g survey.Segment) (any, error) {
	return idOf(ctx, tx,
		`SELECT id FROM segments WHERE name = ? AND low_hz = ? AND high_hz = ?`,
		`INSERT INTO segments (name, low_hz, high_hz) VALUES (?, ?, ?)`,
		g.Name, float64(g.Low), float64(g.High))
}

// idOf looks a row up, and inserts it if it is not there.
func idOf(ctx context.Context, tx *sql.Tx, look, insert string, args ...any) (any, error) {
	var id int64
	err := tx.QueryRowContext(ctx, look, args...).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	done, err := tx.ExecContext(ctx, insert, args...)
	if err != nil {
		return nil, err
	}
	return done.LastInsertId()
}
