// Package checksum tells whether what is stored of a sweep is as it was stored.
//
// A sweep's checksum is the CRC-32C (RFC 3720, appendix B.4) of its rows and those of its
// readings, carriers, findings and spectra, in the order of the queries below. They name the columns:
// what a later schema adds is in it only where there is something, so that what was stored before stays true.
package checksum

import (
	"context"
	"database/sql/driver"
	"encoding/binary"
	"hash"
	"hash/crc32"
	"io"
	"math"
)

var queries = []string{
	`SELECT survey, round, visit, setup, start_ms FROM sweeps WHERE id = ?`,
	`SELECT id, recording, segment, start_ms, duration_ns, centre_hz, sample_rate_hz, bin_hz, resolution_hz, gain_db, gain_exact, floor_dbfs_hz,
		floor_sigma_db, quiet_dbfs_hz, vd_db, vd_bandwidth_hz, occupancy, clipped_share, dropped_samples, dc_dbfs, iq_imbalance_dbc, flags
		FROM readings WHERE sweep = ? ORDER BY id`,
	`SELECT c.reading, c.frequency_hz, c.power, c.sigma, c.detected
		FROM readings r CROSS JOIN carriers c ON c.reading = r.id WHERE r.sweep = ? ORDER BY r.id, c.frequency_hz`,
	// What carriers have got since, by themselves: those stored before have the checksums that they had.
	`SELECT c.reading, c.frequency_hz, c.quiet_quarters
		FROM readings r CROSS JOIN carriers c ON c.reading = r.id WHERE r.sweep = ? AND c.quiet_quarters IS NOT NULL ORDER BY r.id, c.frequency_hz`,
	`SELECT f.reading, f.number, f.kind, f.low_hz, f.high_hz, f.spacing_hz, f.width_hz, f.lines, f.envelope_hz, f.mains_hz, f.depth, f.shape,
		f.rate_hz, f.regular, f.strength_db, f.confidence, f.power, f.sigma
		FROM readings r CROSS JOIN findings f ON f.reading = r.id WHERE r.sweep = ? ORDER BY r.id, f.number`,
	`SELECT p.reading, p.first_hz, p.step_hz, p.enbw, p.looks, p.density
		FROM readings r CROSS JOIN spectra p ON p.reading = r.id WHERE r.sweep = ? ORDER BY r.id`,
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// EachRow hands the rows of a query to take.
type EachRow = func(ctx context.Context, take func(row []driver.Value) error, query string, args ...any) error

// Of gives the checksum of a sweep as it is stored.
func Of(ctx context.Context, each EachRow, sweep int64) (int64, error) {
	sum := crc32.New(castagnoli)
	for _, query := range queries {
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
