package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"io"
)

// A snapshot is one connection inside a read transaction: all its queries see
// the same state of the database. It speaks to the driver itself; the
// conversions of database/sql would double the time of a long read.
type snapshot struct{ conn driver.QueryerContext }

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
		// Nothing was written: rolling back only ends the snapshot.
		return first(do(snapshot{queries}), tx.Rollback())
	}))
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

// list gives what of makes of each row of a query.
func list[T any](ctx context.Context, s *Store, what string, of func(row []driver.Value) T, text string, args ...any) ([]T, error) {
	var all []T
	err := s.read(ctx, what, func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			all = append(all, of(row))
			return nil
		}, text, args...)
	})
	return all, err
}
