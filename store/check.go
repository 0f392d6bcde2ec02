package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"maps"
	"nightfloor/survey"
	"slices"
	"strings"
)

// Check looks the whole database through: its schema's number, SQLite's own structure, that every
// row's survey, sweep, setup and segment is there, that every figure can be (ranges), that
// every sweep is as it was stored (its checksum), and that every spectrum can be read. ErrDamaged names what is wrong, the first few of each kind.
func (s *Store) Check(ctx context.Context) error {
	what := "check database " + s.path
	h, err := readHeader(ctx, s.reader)
	if err := first(err, h.check(len(steps()))); err != nil {
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

// checkSpectra reads every spectrum and notes up to five that cannot be.
func checkSpectra(ctx context.Context, snap snapshot, wrong *[]string) error {
	bad := 0
	return snap.each(ctx, func(row []driver.Value) error {
		blob, _ := row[1].([]byte)
		if _, err := decodeDensity(blob); err != nil && bad < 5 {
			bad++
			*wrong = append(*wrong, fmt.Sprintf("reading %d: %v", integer(row[0]), err))
		}
		return nil
	}, `SELECT reading, density FROM spectra`)
}

// named is how many rows of a table are named that hold what cannot be.
const named = 5

// checkRanges notes rows that hold what cannot be.
func checkRanges(ctx context.Context, snap snapshot, wrong *[]string) error {
	tables := map[string]*rangeCheck{}
	err := snap.each(ctx, func(row []driver.Value) error {
		table, name := text(row[0]), text(row[1])
		if tables[table] == nil {
			tables[table] = &rangeCheck{table: table}
		}
		if integer(row[2]) > 0 {
			tables[table].keys = append(tables[table].keys, name)
		}
		if rangeOf()[name] != nil {
			tables[table].columns = append(tables[table].columns, name)
		}
		return nil
	}, `SELECT t.name, c.name, c.pk FROM sqlite_schema t, pragma_table_info(t.name) c WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' ORDER BY c.cid`)
	for _, table := range slices.Sorted(maps.Keys(tables)) {
		if check := tables[table]; err == nil && len(check.columns) > 0 {
			err = check.run(ctx, snap, wrong)
		}
	}
	return err
}

// A rangeCheck looks through the columns of a table that have limits.
type rangeCheck struct {
	table         string
	keys, columns []string
}

func (r *rangeCheck) run(ctx context.Context, snap snapshot, wrong *[]string) error {
	var outside []string
	for _, name := range r.columns {
		l := rangeOf()[name]
		condition := fmt.Sprintf("NOT (%s BETWEEN %.17g AND %.17g", name, l.low, l.high)
		if l.silence {
			condition += " OR " + name + " = -9e999" // −Inf
		}
		outside = append(outside, condition+")")
	}
	rows := 0
	all := append(slices.Clone(r.keys), r.columns...)
	err := snap.each(ctx, func(row []driver.Value) error {
		if rows++; rows > named {
			return nil
		}
		var key []string
		for i, name := range r.keys {
			key = append(key, fmt.Sprintf("%s %v", name, row[i]))
		}
		for i, name := range r.columns {
			value, l := row[len(r.keys)+i], rangeOf()[name]
			if l.holdsValue(value) {
				continue
			}
			switch x := value.(type) {
			case string, []byte:
				value = fmt.Sprintf("%.40q", x)
			}
			*wrong = append(*wrong, fmt.Sprintf("%s, %s: %s %v is %v", r.table, strings.Join(key, ", "), name, value, l))
		}
		return nil
	}, "SELECT "+strings.Join(all, ", ")+" FROM "+r.table+" WHERE "+strings.Join(outside, " OR "))
	if rows > named {
		*wrong = append(*wrong, fmt.Sprintf("%s: %s that cannot be", r.table, survey.Count(rows-named, "more row")))
	}
	return err
}
