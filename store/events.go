package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"time"

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

// eventsAtOnce is how many events one transaction of AddEvents stores: a
// fraction of a second of work, for which a record beside it waits. Between two it
// is let in: who waits for the lock asks again after 0.1 s at most (SQLite's busy
// handler), and gives up after the 5 s of writerDSN.
const (
	eventsAtOnce = 2000
	letIn        = 120 * time.Millisecond
)

// AddEvents stores events but for those that are stored already, alike in
// everything, and tells how many were new. It works in several transactions: after
// an error the first of them may be stored, and adding all again adds the rest.
// ErrUnknown: there is no such survey.
func (s *Store) AddEvents(ctx context.Context, events []survey.Event) (added int, err error) {
	for len(events) > 0 {
		some := events[:min(len(events), eventsAtOnce)]
		var n int
		err := s.write(ctx, "store events", func(tx *sql.Tx) (err error) {
			n, err = addNewEvents(ctx, tx, some)
			return err
		})
		if err != nil {
			return added, err
		}
		added += n
		if events = events[len(some):]; len(events) > 0 {
			time.Sleep(letIn)
		}
	}
	return added, nil
}

// addNewEvents stores those of events that are not there.
func addNewEvents(ctx context.Context, tx *sql.Tx, events []survey.Event) (added int, err error) {
	insert, err := tx.PrepareContext(ctx, `INSERT INTO events (survey, at_ms, text, repeaked) SELECT ?1, ?2, ?3, ?4
		WHERE NOT EXISTS (SELECT 1 FROM events WHERE survey = ?1 AND at_ms = ?2 AND text = ?3 AND repeaked = ?4)`)
	if err != nil {
		return 0, err
	}
	defer insert.Close()
	known := map[int64]bool{}
	for _, e := range events {
		if !known[e.Survey] {
			var n int
			if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM surveys WHERE id = ?`, e.Survey).Scan(&n); err != nil {
				return 0, err
			}
			if n == 0 {
				return 0, fmt.Errorf("survey %d: %w; begin the survey first", e.Survey, ErrUnknown)
			}
			known[e.Survey] = true
		}
		done, err := insert.ExecContext(ctx, e.Survey, e.At.UnixMilli(), e.Text, e.Repeaked)
		if err != nil {
			return 0, err
		}
		n, err := done.RowsAffected()
		if err != nil {
			return 0, err
		}
		added += int(n)
	}
	return added, nil
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

// Latest gives the last moment of a survey of which anything is stored, by its own
// clock: the end of its last reading or gap, its start before there is one; zero
// where there is no such survey.
func (s *Store) Latest(ctx context.Context, id int64) (at time.Time, err error) {
	err = s.read(ctx, "read the end of survey", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			at = instant(row[0])
			return nil
		}, `
			SELECT max(ms) FROM (
				SELECT start_ms AS ms FROM surveys WHERE id = ?1
				UNION ALL SELECT max(to_ms) FROM gaps WHERE survey = ?1
				UNION ALL SELECT max(start_ms + duration_ns / 1000000) FROM readings
					WHERE sweep = (SELECT id FROM sweeps WHERE survey = ?1 ORDER BY start_ms DESC, id DESC LIMIT 1))`, id)
	})
	return at, err
}

// SetupsOf gives the setups through which a survey has sweeps, the first used first.
func (s *Store) SetupsOf(ctx context.Context, id int64) ([]survey.Setup, error) {
	var all []survey.Setup
	err := s.read(ctx, "read setups", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			all = append(all, setupOf(row))
			return nil
		}, `
			SELECT t.antenna, t.placement, t.bearing_deg FROM sweeps s JOIN setups t ON t.id = s.setup
			WHERE s.survey = ? GROUP BY t.id ORDER BY min(s.start_ms), t.id`, id)
	})
	return all, err
}
