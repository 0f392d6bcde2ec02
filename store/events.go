package store

import (
	"context"
	"database/sql"
	"database/sql/driver"

	"nightfloor/survey"
)

// AddEvent stores what a person noted. ErrUnknown: there is no such survey.
func (s *Store) AddEvent(ctx context.Context, event survey.Event) error {
	return s.write(ctx, "store event", func(tx *sql.Tx) error {
		return addToSurvey(tx.ExecContext(ctx,
			`INSERT INTO events (survey, at_ms, text, repeaked) SELECT id, ?, ?, ? FROM surveys WHERE id = ?`,
			event.At.UnixMilli(), event.Text, event.Repeaked, event.Survey))(event.Survey)
	})
}

// Events gives the events of a survey, 0 for all, by survey and time.
func (s *Store) Events(ctx context.Context, id int64) ([]survey.Event, error) {
	var all []survey.Event
	err := s.read(ctx, "read events", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			all = append(all, survey.Event{Survey: integer(row[0]), At: instant(row[1]), Text: text(row[2]), Repeaked: text(row[3])})
			return nil
		}, `SELECT survey, at_ms, text, repeaked FROM events WHERE ?1 IN (0, survey) ORDER BY survey, at_ms, id`, id)
	})
	return all, err
}
