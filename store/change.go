package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"slices"

	"nightfloor/survey"
)

// A change is a transaction of the writer under way.
type change struct {
	ctx  context.Context
	conn *sql.Conn
	tx   *sql.Tx // on conn
}

// onConn lets do work in a transaction on a connection of a handle. The transaction is committed
// where that went well, else rolled back. Where the context ended, its error is why.
func onConn(ctx context.Context, db *sql.DB, options *sql.TxOptions, do func(change) error) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close() // back into the pool: gives no error
	tx, err := conn.BeginTx(ctx, options)
	if err != nil {
		return err
	}
	if err := do(change{ctx, conn, tx}); err != nil {
		return first(ctx.Err(), err, tx.Rollback()) // SQLite may have rolled back itself
	}
	if err := tx.Commit(); err != nil {
		return first(ctx.Err(), err)
	}
	return nil
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

// insert carries out a statement that adds a row, and gives its number.
func (c change) insert(query string, args ...any) (id int64, err error) {
	done, err := c.tx.ExecContext(c.ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return done.LastInsertId()
}

// add adds a row to a table and gives its number.
func (c change) add(table string, row columns) (id int64, err error) {
	args, err := c.values(row)
	if err != nil {
		return 0, err
	}
	id, err = c.insert(row.insert(table, ""), args...)
	return id, refused(err, table, row)
}

// addAll adds a row to a table for each of some things, with the columns that of gives, and
// tells how many were added. how is as for insert. An error names the thing by its number,
// from 1.
func addAll[T any](c change, table, how string, some []T, of func(i int, x *T) columns) (added int, err error) {
	if len(some) == 0 {
		return 0, nil
	}
	insert, err := c.tx.PrepareContext(c.ctx, of(0, new(T)).insert(table, how))
	if err != nil {
		return 0, err
	}
	defer func() { err = first(err, insert.Close()) }()
	for i := range some {
		row := of(i, &some[i])
		args, err := c.values(row)
		if err != nil {
			return added, fmt.Errorf("%s %d: %w", table, i+1, err)
		}
		done, err := insert.ExecContext(c.ctx, args...)
		if err != nil {
			return added, fmt.Errorf("%s %d: %w", table, i+1, refused(err, table, row))
		}
		rows, err := done.RowsAffected()
		if err != nil {
			return added, err
		}
		added += int(rows)
	}
	return added, nil
}

// addOne is add in a transaction of its own.
func (s *Store) addOne(ctx context.Context, what, table string, row columns) (id int64, err error) {
	err = s.write(ctx, what, func(c change) error {
		id, err = c.add(table, row)
		return err
	})
	if err != nil {
		return 0, err
	}
	return id, nil
}

// number asks for a single number; sql.ErrNoRows where there is no row.
func (c change) number(query string, args ...any) (n int64, err error) {
	return n, c.tx.QueryRowContext(c.ctx, query, args...).Scan(&n)
}

// numbers asks for a column of numbers.
func (c change) numbers(query string, args ...any) (all []int64, err error) {
	err = c.each(c.ctx, func(row []driver.Value) error {
		all = append(all, integer(row[0]))
		return nil
	}, query, args...)
	return all, err
}

// texts asks for a column of texts.
func (c change) texts(query string, args ...any) (all []string, err error) {
	err = c.each(c.ctx, func(row []driver.Value) error {
		all = append(all, text(row[0]))
		return nil
	}, query, args...)
	return all, err
}

// idOf looks a row up, and adds it if it is not there.
func (c change) idOf(table, where string, row columns) (any, error) {
	args, err := c.values(row)
	if err != nil {
		return nil, err
	}
	id, err := c.number("SELECT id FROM "+table+" WHERE "+where, args...)
	if errors.Is(err, sql.ErrNoRows) {
		return c.add(table, row)
	}
	return id, err
}

// setup gives the number of a setup, which is stored if it is new; NULL for the empty setup.
func (c change) setup(s survey.Setup) (id any, err error) {
	if s == (survey.Setup{}) {
		return nil, nil
	}
	return c.idOf("setups", "antenna = ? AND placement = ? AND ifnull(bearing_deg, -1) = ifnull(?, -1)", setupColumns(&s))
}

// segment gives the number of a segment, which is stored if it is new.
func (c change) segment(g survey.Segment) (any, error) {
	return c.idOf("segments", "name = ? AND low_hz = ? AND high_hz = ?", segmentColumns(&g))
}

// addToReadings stores more of what readings hold, by the readings' numbers, all or
// nothing. ErrUnknown: a reading is not there.
func addToReadings[T any](ctx context.Context, s *Store, what string, more map[int64][]T, insert func(c change, reading int64, some []T) error) error {
	ids := slices.Sorted(maps.Keys(more)) // in order: the tables are sorted by them
	return s.write(ctx, "store "+what, func(c change) error {
		return c.resealed(func(touched *seals) error {
			return s.guard.addedTo(c, ids, func() error {
				for _, id := range ids {
					sweep, err := c.number(`SELECT sweep FROM readings WHERE id = ?`, id)
					if errors.Is(err, sql.ErrNoRows) {
						err = fmt.Errorf("%w; store its sweep first", ErrUnknown)
					}
					if err == nil {
						err = touched.touch(sweep)
					}
					if err == nil {
						err = insert(c, id, more[id])
					}
					if err != nil {
						return fmt.Errorf("reading %d: %w", id, err)
					}
				}
				return nil
			})
		})
	})
}
