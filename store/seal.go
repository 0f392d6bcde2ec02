package store

import (
	"context"
	"database/sql/driver"
	"fmt"

	"nightfloor/store/checksum"
)

// each is checksum.EachRow within a change.
func (c change) each(ctx context.Context, take func(row []driver.Value) error, query string, args ...any) (err error) {
	rows, err := c.tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = first(err, rows.Close()) }()
	names, err := rows.Columns()
	if err != nil {
		return err
	}
	values, into, row := make([]any, len(names)), make([]any, len(names)), make([]driver.Value, len(names))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		for i, v := range values {
			row[i] = v
		}
		if err := take(row); err != nil {
			return err
		}
	}
	return rows.Err()
}

// seal stores the checksum of a sweep as it is now.
func (c change) seal(sweep int64) error {
	sum, err := checksum.Of(c.ctx, c.each, sweep)
	if err == nil {
		_, err = c.run(`UPDATE sweeps SET checksum = ?1 WHERE id = ?2 AND checksum IS NOT ?1`, sum, sweep)
	}
	return err
}

// resealed changes sweeps by do and seals them anew, but for those that have no checksum, or
// another: what is wrong with them stays told. The query gives the sweeps.
func (c change) resealed(do func() error, query string, args ...any) error {
	good, _, err := checksum.Judge(c.ctx, c.each, query, args...)
	if err := first(err, do()); err != nil {
		return err
	}
	for _, sweep := range good {
		if err := c.seal(sweep); err != nil {
			return err
		}
	}
	return nil
}

// checkChecksums notes sweeps of which something is another than was stored.
func checkChecksums(ctx context.Context, snap snapshot, wrong *[]string) error {
	_, bad, err := checksum.Judge(ctx, snap.each, `SELECT id FROM sweeps`)
	for _, sweep := range bad[:min(named, len(bad))] {
		*wrong = append(*wrong, fmt.Sprintf("sweep %d: its rows, or those of its readings, carriers, findings or spectra, are not as they were stored", sweep))
	}
	if len(bad) > named {
		*wrong = append(*wrong, fmt.Sprintf("%d more sweeps are not as they were stored", len(bad)-named))
	}
	return err
}
