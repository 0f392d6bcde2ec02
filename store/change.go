package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"

	"nightfloor/survey"
)

// A change is a transaction of the writer under way.
type change struct {
	ctx context.Context
	tx  *sql.Tx
}

// run carries out a statement and gives how many rows it met.
func (c change) run(query string, args ...any) (rows int64, err error) {
	done, err := c.tx.ExecContext(c.ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return done.RowsAffected()
}

// runOne carries out a statement that is to meet a row; ErrUnknown where it meets none.
func (c change) runOne(query string, args ...any) error {
	rows, err := c.run(query, args...)
	if err == nil && rows == 0 {
		err = fmt.Errorf("%w; `nightfloor report quality` lists what there is", ErrUnknown)
	}
	return err
}

// insert adds a row and gives its number.
func (c change) insert(query string, args ...any) (id int64, err error) {
	done, err := c.tx.ExecContext(c.ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return done.LastInsertId()
}

// insertAll adds a row for each of some things by one statement, with the values that
// values gives for it, and tells how many rows were added. An error names the thing that
// it is of by its number, from 1.
func insertAll[T any](c change, what, query string, some []T, values func(i int, x T) ([]any, error)) (added int, err error) {
	if len(some) == 0 {
		return 0, nil
	}
	insert, err := c.tx.PrepareContext(c.ctx, query)
	if err != nil {
		return 0, err
	}
	defer func() { err = first(err, insert.Close()) }()
	for i, x := range some {
		args, err := values(i, x)
		if err != nil {
			return added, fmt.Errorf("%s %d: %w", what, i+1, err)
		}
		done, err := insert.ExecContext(c.ctx, args...)
		if err != nil {
			return added, fmt.Errorf("%s %d: %w", what, i+1, err)
		}
		rows, err := done.RowsAffected()
		if err != nil {
			return added, err
		}
		added += int(rows)
	}
	return added, nil
}

// number asks for a single number; sql.ErrNoRows where there is no row.
func (c change) number(query string, args ...any) (n int64, err error) {
	return n, c.tx.QueryRowContext(c.ctx, query, args...).Scan(&n)
}

// idOf looks a row up, and adds it if it is not there.
func (c change) idOf(look, add string, args ...any) (any, error) {
	id, err := c.number(look, args...)
	if errors.Is(err, sql.ErrNoRows) {
		return c.insert(add, args...)
	}
	return id, err
}

// setup gives the number of a setup, which is stored if it is new; NULL for the empty setup.
func (c change) setup(s survey.Setup) (id any, err error) {
	if s == (survey.Setup{}) {
		return nil, nil
	}
	return c.idOf(
		`SELECT id FROM setups WHERE antenna = ? AND placement = ? AND ifnull(bearing_deg, -1) = ifnull(?, -1)`,
		`INSERT INTO setups (antenna, placement, bearing_deg) VALUES (?, ?, ?)`,
		s.Antenna, s.Placement, degrees(s.Bearing))
}

// segment gives the number of a segment, which is stored if it is new.
func (c change) segment(g survey.Segment) (any, error) {
	return c.idOf(
		`SELECT id FROM segments WHERE name = ? AND low_hz = ? AND high_hz = ?`,
		`INSERT INTO segments (name, low_hz, high_hz) VALUES (?, ?, ?)`,
		g.Name, float64(g.Low), float64(g.High))
}

// addToReadings stores more of what readings hold, by the readings' numbers, all or
// nothing. ErrUnknown: a reading is not there.
func addToReadings[T any](ctx context.Context, s *Store, what string, more map[int64][]T, check func([]T) error, insert func(c change, reading int64, some []T) error) error {
	readings := slices.Sorted(maps.Keys(more)) // in order: the tables are sorted by them
	for _, id := range readings {
		if err := check(more[id]); err != nil {
			return fmt.Errorf("store %s of reading %d: %w", what, id, err)
		}
	}
	return s.write(ctx, "store "+what, func(c change) error {
		for _, id := range readings {
			if err := insert(c, id, more[id]); err != nil {
				return fmt.Errorf("reading %d: %w", id, err)
			}
		}
		return nil
	})
}
