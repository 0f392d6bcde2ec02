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
	var good []int64
	sums, err := c.checksums(query, args...)
	for _, s := range sums {
		sum, sumErr := checksum.Of(c.ctx, c.each, s.sweep)
		if err = first(err, sumErr); err == nil && sum == s.sum {
			good = append(good, s.sweep)
		}
	}
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

// A storedSum is the checksum that is stored of a sweep.
type storedSum struct{ sweep, sum int64 }

// checksums gives the checksums of sweeps that have one; the query gives their numbers.
func (c change) checksums(query string, args ...any) (all []storedSum, err error) {
	return all, c.each(c.ctx, func(row []driver.Value) error {
		all = append(all, storedSum{integer(row[0]), integer(row[1])})
		return nil
	}, `SELECT id, checksum FROM sweeps WHERE checksum IS NOT NULL AND id IN (`+query+`)`, args...)
}

// checkChecksums notes sweeps of which something is another than was stored.
func checkChecksums(ctx context.Context, snap snapshot, wrong *[]string) error {
	var stored []storedSum
	err := snap.each(ctx, func(row []driver.Value) error {
		stored = append(stored, storedSum{integer(row[0]), integer(row[1])})
		return nil
	}, `SELECT id, checksum FROM sweeps WHERE checksum IS NOT NULL ORDER BY id`)
	bad := 0
	for _, s := range stored {
		sum, sumErr := checksum.Of(ctx, snap.each, s.sweep)
		if err = first(err, sumErr); err != nil {
			return err
		}
		if sum == s.sum {
			continue
		}
		if bad++; bad <= named {
			*wrong = append(*wrong, fmt.Sprintf("sweep %d: its rows, or those of its readings, carriers, findings or spectra, are not as they were stored", s.sweep))
		}
	}
	if bad > named {
		*wrong = append(*wrong, fmt.Sprintf("%d more sweeps are not as they were stored", bad-named))
	}
	return err
}
