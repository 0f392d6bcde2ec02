package store

import (
	"context"
	"time"

	"nightfloor/survey"
)

func eventColumns(e *survey.Event) columns {
	return columns{{"survey", &e.Survey}, {"at_ms", &e.At}, {"text", &e.Text}, {"repeaked", &e.Repeaked}}
}

// AddEvent stores what a person noted. ErrUnknown: there is no such survey.
func (s *Store) AddEvent(ctx context.Context, event survey.Event) error {
	_, err := s.addOne(ctx, "store event", "events", eventColumns(&event))
	return err
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
		err := s.write(ctx, "store events", func(c change) (err error) {
			n, err = addAll(c, "events", "SELECT ?1, ?2, ?3, ?4 WHERE NOT EXISTS (SELECT 1 FROM events WHERE survey = ?1 AND at_ms = ?2 AND text = ?3 AND repeaked = ?4)",
				some, func(_ int, e *survey.Event) columns { return eventColumns(e) })
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

// Events gives the events of a survey, 0 for all, by survey and time.
func (s *Store) Events(ctx context.Context, id int64) ([]survey.Event, error) {
	return list(ctx, s, "read events", eventColumns, `FROM events WHERE ?1 IN (0, survey) ORDER BY survey, at_ms, id`, id)
}

func gapColumns(g *survey.Gap) columns {
	return columns{{"survey", &g.Survey}, {"from_ms", &g.From}, {"to_ms", &g.To}, {"why", &g.Why}}
}

// AddGap stores a stretch without readings. ErrUnknown: there is no such survey.
func (s *Store) AddGap(ctx context.Context, gap survey.Gap) error {
	_, err := s.addOne(ctx, "store gap", "gaps", gapColumns(&gap))
	return err
}

// Gaps gives the gaps of a survey, 0 for all, by survey and beginning.
func (s *Store) Gaps(ctx context.Context, id int64) ([]survey.Gap, error) {
	return list(ctx, s, "read gaps", gapColumns, `FROM gaps WHERE ?1 IN (0, survey) ORDER BY survey, from_ms, id`, id)
}

// Latest gives the last moment of a survey of which anything is stored, by its own
// clock: the end of its last reading or gap, its start before there is one; zero
// where there is no such survey.
func (s *Store) Latest(ctx context.Context, id int64) (at time.Time, err error) {
	end := func(at *time.Time) columns { return columns{{"max(ms)", optional{new(bool), at}}} }
	found, err := list(ctx, s, "read the end of survey", end, `
		FROM (
			SELECT start_ms AS ms FROM surveys WHERE id = ?1
			UNION ALL SELECT max(to_ms) FROM gaps WHERE survey = ?1
			UNION ALL SELECT max(start_ms + duration_ns / 1000000) FROM readings
				WHERE sweep = (SELECT id FROM sweeps WHERE survey = ?1 ORDER BY start_ms DESC, id DESC LIMIT 1))`, id)
	if err != nil {
		return at, err
	}
	return found[0], nil // max gives a row even of none
}

// setupOf gives the column of a sweep's setup, of sweeps s.
func setupOf(setup *survey.Setup) columns { return columns{{"s.setup", setup}} }

// SetupsOf gives the setups through which a survey has sweeps, the first used first.
func (s *Store) SetupsOf(ctx context.Context, id int64) ([]survey.Setup, error) {
	return list(ctx, s, "read setups", setupOf, `FROM sweeps s WHERE s.survey = ? GROUP BY s.setup ORDER BY min(s.start_ms), s.setup`, id)
}
