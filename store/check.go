package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"strings"

	"nightfloor/store/density"
	"nightfloor/store/ranges"
	"nightfloor/store/schema"
)

// Check looks the whole database through: its schema's number, SQLite's own structure, that every
// row's survey, sweep, setup and segment is there, that every figure can be (package ranges), that
// every sweep is as it was stored (package checksum), and that every spectrum can be read. ErrDamaged
// names what is wrong, the first few of each kind.
func (s *Store) Check(ctx context.Context) error {
	what := "check database " + s.path
	h, err := schema.ReadHeader(ctx, s.reader)
	if err := first(err, h.Check(len(schema.Steps()))); err != nil {
		return explain(what, err)
	}
	var wrong []string
	err = s.read(ctx, what, func(snap snapshot) error {
		return first(
			snap.each(ctx, func(row []driver.Value) error {
				if said := text(row[0]); said != "ok" {
					wrong = append(wrong, strings.ReplaceAll(said, "\n", " "))
				}
				return nil
			}, `PRAGMA integrity_check(5)`),
			snap.each(ctx, func(row []driver.Value) error {
				wrong = append(wrong, fmt.Sprintf("a row of %s points to no row of %s", text(row[0]), text(row[1])))
				return nil
			}, `SELECT DISTINCT "table", parent FROM pragma_foreign_key_check`),
			checkRanges(ctx, snap, &wrong),
			checkChecksums(ctx, snap, &wrong),
			checkSpectra(ctx, snap, &wrong))
	})
	if err != nil {
		return err
	}
	if len(wrong) > 0 {
		return fmt.Errorf("%s: %w: %s; keep a copy, and go back to the last backup", what, ErrDamaged, strings.Join(wrong, "; "))
	}
	return nil
}

// named is how many of a kind are named.
const named = 5

// checkRanges notes rows that hold what cannot be.
func checkRanges(ctx context.Context, snap snapshot, wrong *[]string) error {
	outside, err := ranges.Check(ctx, snap.each, named)
	*wrong = append(*wrong, outside...)
	return err
}

// Sound looks through the structure of the database, in a small part of the time that Check takes,
// and for lookTime at most. ErrDamaged: nothing more should be written into it.
func (s *Store) Sound(ctx context.Context) error {
	return inTime(ctx, func(ctx context.Context) error { return alone(ctx, s.path, change.quickCheck) })
}

// checkSpectra reads every spectrum and notes those that cannot be.
func checkSpectra(ctx context.Context, snap snapshot, wrong *[]string) error {
	bad := 0
	return snap.each(ctx, func(row []driver.Value) error {
		blob, _ := row[1].([]byte)
		if _, err := density.Decode(blob); err != nil && bad < named {
			bad++
			*wrong = append(*wrong, fmt.Sprintf("reading %d: %v", integer(row[0]), err))
		}
		return nil
	}, `SELECT reading, density FROM spectra`)
}
