// Package salvage copies what can still be read of a database that was damaged under a connection.
package salvage

import (
	"context"
	"database/sql"
	"fmt"
)

// Copy copies the rows that can still be read into the new database at to: as the open
// connection reads them, and then what the file by itself has more. A row comes with what it
// belongs to or not at all. No key that cannot be asked for is larger than last. Where ctx ends,
// what was copied by then stays.
func Copy(ctx context.Context, conn *sql.Conn, to, file string, last int64) error {
	// With writable_schema SQLite reads a file that is shorter than its header says.
	if _, err := conn.ExecContext(ctx, "PRAGMA writable_schema = on; ATTACH ? AS saved", to); err != nil {
		return err
	}
	tables, err := tablesOf(ctx, conn)
	if err != nil {
		return err
	}
	for _, t := range tables {
		t.copy(ctx, conn, "main", last)
	}
	if _, err := conn.ExecContext(ctx, "ATTACH ? AS file", file); err == nil {
		for _, t := range tables {
			t.copy(ctx, conn, "file", last)
		}
	}
	_, err = conn.ExecContext(context.WithoutCancel(ctx), "DETACH saved")
	return err
}

// A table is a table to be copied.
type table struct {
	name, key string // key: the column that it is sorted by
	columns   string // of the new one: a newer program may have given the damaged one more
	parents   string // the condition that what a row belongs to was copied
}

// tablesOf lists the tables of the new database, parents before children.
func tablesOf(ctx context.Context, conn *sql.Conn) (tables []table, err error) {
	rows, err := conn.QueryContext(ctx, `
		SELECT t.name, iif(l.wr, (SELECT name FROM pragma_table_info(t.name, 'saved') WHERE pk = 1), 'rowid'),
			(SELECT group_concat(name, ', ') FROM pragma_table_info(t.name, 'saved')),
			ifnull((SELECT group_concat(format('(%s IS NULL OR %s IN (SELECT %s FROM saved.%s))', "from", "from", "to", "table"), ' AND ')
				FROM pragma_foreign_key_list(t.name, 'saved')), 'true')
		FROM saved.sqlite_schema t JOIN pragma_table_list l ON l.schema = 'saved' AND l.name = t.name
		WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' ORDER BY t.rowid`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var t table
		if err := rows.Scan(&t.name, &t.key, &t.columns, &t.parents); err != nil {
			return nil, err
		}
		tables = append(tables, t)
	}
	return tables, rows.Err()
}

// copy copies the rows that can be read. Where the first or the last cannot be asked for,
// they are sought among all keys.
func (t table) copy(ctx context.Context, conn *sql.Conn, from string, last int64) {
	var low, high sql.NullInt64 // NULL: the table is empty
	query := "SELECT min(" + t.key + "), (SELECT max(" + t.key + ") FROM " + from + "." + t.name + ") FROM " + from + "." + t.name
	if err := conn.QueryRowContext(ctx, query).Scan(&low, &high); err != nil {
		low, high = sql.NullInt64{Int64: 1, Valid: true}, sql.NullInt64{Int64: last, Valid: true}
	}
	if low.Valid && high.Valid {
		t.copyRange(ctx, conn, from, low.Int64, high.Int64)
	}
}

// copyRange copies the rows of a range of keys that are not there yet; where one of them cannot
// be read, each half by itself.
func (t table) copyRange(ctx context.Context, conn *sql.Conn, from string, low, high int64) {
	_, err := conn.ExecContext(ctx, fmt.Sprintf("INSERT OR IGNORE INTO saved.%s (%s) SELECT %s FROM %s.%s WHERE %s BETWEEN ? AND ? AND %s",
		t.name, t.columns, t.columns, from, t.name, t.key, t.parents), low, high)
	if err != nil && low < high && ctx.Err() == nil {
		middle := low + (high-low)/2
		t.copyRange(ctx, conn, from, low, middle)
		t.copyRange(ctx, conn, from, middle+1, high)
	}
}
