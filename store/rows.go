package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"io"
	"slices"
	"strings"

	"nightfloor/survey"
)

// A snapshot is one connection inside a read transaction: all its queries see
// the same state of the database. It speaks to the driver itself; the
// conversions of database/sql would double the time of a long read.
type snapshot struct {
	conn     driver.QueryerContext
	setups   map[int64]survey.Setup // by number, after readNames
	segments map[int64]survey.Segment
	leftOut  leftOut
}

// readNames reads the setups and segments, few rows each.
func (s snapshot) readNames(ctx context.Context) error {
	return first(
		readNumbered(ctx, s, "setups", s.setups, setupColumns),
		readNumbered(ctx, s, "segments", s.segments, segmentColumns))
}

// readNumbered reads a table by the numbers of its rows.
func readNumbered[T any](ctx context.Context, s snapshot, table string, into map[int64]T, of func(*T) columns) error {
	var x T
	row := of(&x)
	s.leftOut.begin(table)
	return s.each(ctx, func(values []driver.Value) error {
		if s.scan(values[1:], row) {
			into[integer(values[0])] = x
		} else {
			s.leftOut[table][0]++
		}
		return nil
	}, "SELECT id, "+row.names("")+" FROM "+table)
}

// read runs do on a snapshot. A long reader keeps SQLite's write-ahead log
// growing, so do should not wait for anything.
func (s *Store) read(ctx context.Context, what string, do func(snapshot) error) error {
	conn, err := s.reader.Conn(ctx)
	if err != nil {
		return explain(what, err)
	}
	defer conn.Close() // back into the pool: gives no error
	return explain(what, conn.Raw(func(raw any) error {
		begin, ok := raw.(driver.ConnBeginTx)
		queries, also := raw.(driver.QueryerContext)
		if !ok || !also {
			panic(fmt.Sprintf("store: the driver's %T has no transactions or queries", raw))
		}
		tx, err := begin.BeginTx(ctx, driver.TxOptions{ReadOnly: true})
		if err != nil {
			return err
		}
		snap := snapshot{queries, map[int64]survey.Setup{}, map[int64]survey.Segment{}, leftOut{}}
		err = do(snap)
		s.noteLeftOut(snap.leftOut)
		return first(err, tx.Rollback()) // nothing was written: rolling back only ends the snapshot
	}))
}

// readNamed is read for rows that hold the numbers of setups and segments.
func (s *Store) readNamed(ctx context.Context, what string, do func(snapshot) error) error {
	return s.read(ctx, what, func(snap snapshot) error {
		if err := snap.readNames(ctx); err != nil {
			return err
		}
		return do(snap)
	})
}

// A cursor walks the rows of one query.
type cursor struct {
	rows driver.Rows
	row  []driver.Value // valid until the next step
	done bool
}

// query begins a query and steps onto its first row. The query itself does not
// follow a context: the driver would start a watcher for every row. Who
// walks long looks at the context between rows.
func (s snapshot) query(text string, args ...any) (*cursor, error) {
	named := make([]driver.NamedValue, len(args))
	for i, arg := range args {
		named[i] = driver.NamedValue{Ordinal: i + 1, Value: arg}
	}
	rows, err := s.conn.QueryContext(context.Background(), text, named)
	if err != nil {
		return nil, err
	}
	c := &cursor{rows: rows, row: make([]driver.Value, len(rows.Columns()))}
	if err := c.step(); err != nil {
		return nil, first(err, rows.Close())
	}
	return c, nil
}

// step goes to the next row; done is true behind the last one.
func (c *cursor) step() error {
	err := c.rows.Next(c.row)
	if err == io.EOF {
		c.done = true
		return nil
	}
	return err
}

// close ends the query. It is for defer: an error in reading has come from step.
func (c *cursor) close() { c.rows.Close() }

// each runs a query and hands each of its rows to take.
func (s snapshot) each(ctx context.Context, take func(row []driver.Value) error, text string, args ...any) error {
	c, err := s.query(text, args...)
	if err != nil {
		return err
	}
	defer c.close()
	for !c.done {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := take(c.row); err != nil {
			return err
		}
		if err := c.step(); err != nil {
			return err
		}
	}
	return nil
}

// rows gives the rows of a query for the columns that of gives, but for those that hold what
// cannot be; from is the rest of the query, FROM and the table first.
func rows[T any](ctx context.Context, s snapshot, of func(*T) columns, from string, args ...any) (all []T, err error) {
	var x T
	row := of(&x)
	table := strings.Fields(from)[1]
	bySurvey := slices.IndexFunc(row, func(c column) bool { return c.name == "survey" || table == "surveys" && c.name == "id" })
	s.leftOut.begin(table)
	err = s.each(ctx, func(values []driver.Value) error {
		if s.scan(values, row) {
			all = append(all, x)
			return nil
		}
		id := int64(0)
		if bySurvey >= 0 {
			id = integer(values[bySurvey])
		}
		s.leftOut[table][id]++
		return nil
	}, "SELECT "+row.names("")+" "+from, args...)
	return all, err
}

// list is rows on a snapshot of its own.
func list[T any](ctx context.Context, s *Store, what string, of func(*T) columns, from string, args ...any) (all []T, err error) {
	err = s.readNamed(ctx, what, func(snap snapshot) error {
		all, err = rows(ctx, snap, of, from, args...)
		return err
	})
	return all, err
}
