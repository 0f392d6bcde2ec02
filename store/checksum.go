package store

import (
	"context"
	"database/sql/driver"
	"encoding/binary"
	"fmt"
	"hash"
	"hash/crc32"
	"io"
	"math"
	"nightfloor/survey"
)

// A sweep's checksum is the CRC-32C (RFC 3720, appendix B.4) of its rows and those of its
// readings, carriers, findings and spectra, in the order of these queries. They name the columns:
// what later schemas add is not in it. Packed densities have a checksum of their own.
var checksumQueries = []string{
	`SELECT survey, round, visit, setup, start_ms FROM sweeps WHERE id = ?`,
	`SELECT id, recording, segment, start_ms, duration_ns, centre_hz, sample_rate_hz, bin_hz, resolution_hz, gain_db, gain_exact, floor_dbfs_hz,
		floor_sigma_db, quiet_dbfs_hz, vd_db, vd_bandwidth_hz, occupancy, clipped_share, dropped_samples, dc_dbfs, iq_imbalance_dbc, flags
		FROM readings WHERE sweep = ? ORDER BY id`,
	`SELECT c.reading, c.frequency_hz, c.power, c.sigma, c.detected
		FROM readings r CROSS JOIN carriers c ON c.reading = r.id WHERE r.sweep = ? ORDER BY r.id, c.frequency_hz`,
	`SELECT f.reading, f.number, f.kind, f.low_hz, f.high_hz, f.spacing_hz, f.width_hz, f.lines, f.envelope_hz, f.mains_hz, f.depth, f.shape,
		f.rate_hz, f.regular, f.strength_db, f.confidence, f.power, f.sigma
		FROM readings r CROSS JOIN findings f ON f.reading = r.id WHERE r.sweep = ? ORDER BY r.id, f.number`,
	`SELECT p.reading, p.first_hz, p.step_hz, p.enbw, p.looks
		FROM readings r CROSS JOIN spectra p ON p.reading = r.id WHERE r.sweep = ? ORDER BY r.id`,
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// eachRow hands the rows of a query to take.
type eachRow func(ctx context.Context, take func(row []driver.Value) error, query string, args ...any) error

// checksum gives the checksum of a sweep as it is stored.
func checksum(ctx context.Context, each eachRow, sweep int64) (int64, error) {
	sum := crc32.New(castagnoli)
	for _, query := range checksumQueries {
		err := each(ctx, func(row []driver.Value) error {
			for _, value := range row {
				addValue(sum, value)
			}
			return nil
		}, query, sweep)
		if err != nil {
			return 0, err
		}
	}
	return int64(sum.Sum32()), nil
}

// addValue adds a value with its kind and, where lengths differ, its length. A hash gives no errors.
func addValue(sum hash.Hash32, value driver.Value) {
	number := func(kind byte, bits uint64) {
		sum.Write(binary.LittleEndian.AppendUint64([]byte{kind}, bits))
	}
	switch v := value.(type) {
	case nil:
		sum.Write([]byte{'n'})
	case int64:
		number('i', uint64(v))
	case float64:
		number('r', math.Float64bits(v))
	case string:
		number('t', uint64(len(v)))
		io.WriteString(sum, v)
	case []byte:
		number('b', uint64(len(v)))
		sum.Write(v)
	}
}

// each is eachRow within a change.
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
	sum, err := checksum(c.ctx, c.each, sweep)
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
		sum, sumErr := checksum(c.ctx, c.each, s.sweep)
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
		sum, sumErr := checksum(ctx, snap.each, s.sweep)
		if err = first(err, sumErr); err != nil {
			return err
		}
		if sum == s.sum {
			continue
		}
		if bad++; bad <= named {
			*wrong = append(*wrong, fmt.Sprintf("sweep %d: its rows, or those of its readings, carriers or findings, are not as they were stored", s.sweep))
		}
	}
	if bad > named {
		*wrong = append(*wrong, "not as they were stored: "+survey.Count(bad-named, "more sweep"))
	}
	return err
}
