package store

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"nightfloor/store/handle"
	"nightfloor/store/ranges"
	"nightfloor/store/schema"
	"nightfloor/survey"
)

// TestImpossibleRows: rows that hold what cannot be are left out, counted, and named by Check.
func TestImpossibleRows(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n := night{seeded(), 2, 3, 20}
	for i := range 4 {
		if err := s.AddSweep(t.Context(), n.sweep(id, i)); err != nil {
			t.Fatal(err)
		}
	}
	for at := range 2 {
		if err := s.AddGap(t.Context(), survey.Gap{Survey: id, From: evening, To: evening, Why: fmt.Sprint(at)}); err != nil {
			t.Fatal(err)
		}
	}
	do(t, s, `PRAGMA ignore_check_constraints = on;
		UPDATE sweeps SET round = -7 WHERE id = 2;
		UPDATE readings SET floor_dbfs_hz = 9e999 WHERE id = 1;
		UPDATE readings SET dc_dbfs = -9e999 WHERE id = 2;
		UPDATE carriers SET power = 7e304 WHERE reading = 2 AND frequency_hz = (SELECT min(frequency_hz) FROM carriers WHERE reading = 2);
		UPDATE findings SET spacing_hz = -1 WHERE reading = 5 AND number = 2;
		UPDATE spectra SET enbw = -1 WHERE reading = 5;
		UPDATE gaps SET to_ms = 1000000000000000000 WHERE id = 2`)
	sweeps := all(t, s, Filter{})
	if len(sweeps) != 3 || len(sweeps[0].Readings) != 1 || len(sweeps[0].Readings[0].Carriers) != 2 || len(sweeps[1].Readings) != 2 || len(sweeps[1].Readings[0].Findings) != 3 {
		t.Errorf("%d sweeps, the first %+v", len(sweeps), sweeps[0])
	}
	if dc := sweeps[0].Readings[0].Quality.DC; !math.IsInf(float64(dc), -1) {
		t.Errorf("a mean of no power is read as %v", dc)
	}
	if gaps, err := s.Gaps(t.Context(), 0); err != nil || len(gaps) != 1 {
		t.Errorf("gaps %v, %v", gaps, err)
	}
	spectra := 0
	if err := s.Spectra(t.Context(), Filter{}, func(int64, *survey.Spectrum) error { spectra++; return nil }); err != nil || spectra != 7 {
		t.Errorf("%d spectra, %v, want 7", spectra, err)
	}
	for _, want := range []survey.LeftOut{{Survey: id, Table: "sweeps", Rows: 1}, {Survey: id, Table: "readings", Rows: 1}, {Survey: id, Table: "carriers", Rows: 1},
		{Survey: id, Table: "findings", Rows: 1}, {Survey: id, Table: "spectra", Rows: 1}, {Survey: id, Table: "gaps", Rows: 1}} {
		if got := s.LeftOut(); !strings.Contains(fmt.Sprint(got), fmt.Sprint(want)) {
			t.Errorf("left out %v, want %v", got, want)
		}
	}
	err := s.Check(t.Context())
	if !isErr(err, ErrDamaged) {
		t.Fatalf("%v, want ErrDamaged", err)
	}
	for _, want := range []string{"sweeps, id 2: round -7 is not from 0 to 100000000 (", "readings, id 1: floor_dbfs_hz +Inf is not from -400 to 400 dB (",
		"carriers, reading 2, frequency_hz ", ": power 7e+304 is not from", "findings, reading 5, number 2: spacing_hz -1 is not", "spectra, reading 5: enbw -1 is not",
		"gaps, id 2: to_ms 1000000000000000000 is not from 0 to 7258118400000 ms (from 1970 to 2200)"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%v\nwant %s", err, want)
		}
	}
	if strings.Contains(err.Error(), "dc_dbfs") {
		t.Errorf("a mean of no power cannot be: %v", err)
	}
}

// TestRefusedFigure: what cannot be is not stored, and the error says which figure that is, and what could be.
func TestRefusedFigure(t *testing.T) {
	s := openTemp(t)
	sweep := night{seeded(), 1, 1, 0}.sweep(begin(t, s), 0)
	sweep.Readings[0].Carriers[0].Power = 7e304
	if err := s.AddSweep(t.Context(), sweep); !isErr(err, ErrInvalid) || !strings.Contains(err.Error(), "power 7e+304 is not from -1e+15 to 1e+15 of full scale (") {
		t.Errorf("%v", err)
	}
}

// TestOwnTable: a table that a user keeps in the database beside ours is the user's own affair.
func TestOwnTable(t *testing.T) {
	s := openTemp(t)
	do(t, s, `CREATE TABLE "my log" (number INTEGER, power REAL); INSERT INTO "my log" VALUES (5000000000, -1e300)`)
	must(t, s.Check(t.Context()))
}

// TestChecks: the CHECKs of the tables and the limits of ranges are the same, for every column; what lies
// on a limit is taken, what lies beyond is refused.
func TestChecks(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	if err := s.AddSweep(t.Context(), night{seeded(), 1, 1, 20}.sweep(id, 0)); err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{survey.CalibrateNoise, survey.CalibrateLevel, survey.CalibrateLines, survey.CalibrateLinearity, survey.CalibrateClock} {
		c := calibrated(kind, evening)
		if err := s.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
	}
	if err := first(s.AddGap(t.Context(), survey.Gap{Survey: id, From: evening, To: evening}), s.AddEvent(t.Context(), survey.Event{Survey: id, At: evening}),
		s.AddVisit(t.Context(), survey.Visit{Survey: id, Number: 1, Round: 1, Asked: nightSetups[1], Start: evening})); err != nil {
		t.Fatal(err)
	}
	checked := map[string]bool{}
	for _, column := range realColumns(t, s.reader) {
		table, name, _ := strings.Cut(column, ".")
		l := ranges.ByColumn()[name]
		if l == nil {
			continue
		}
		checked[name] = true
		for value, taken := range map[float64]bool{l.Low: true, l.High: true, math.Inf(1): false, math.Inf(-1): l.Silence, l.Low - 1: false, l.High + 1: false} {
			if err := set(s, table, name, value); (err == nil) != taken {
				t.Errorf("%s.%s = %v: %v, want it taken: %t", table, name, value, err, taken)
			}
		}
	}
	for name := range ranges.ByColumn() {
		if !checked[name] {
			t.Errorf("no table has a column %s", name)
		}
	}
}

// set sets a column of one row of a table, which must have one, for the while of a transaction.
func set(s *Store, table, name string, value float64) error {
	tx, err := s.writer.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	var key string
	if err := tx.QueryRow(`SELECT group_concat(name) FROM pragma_table_info(?) WHERE pk > 0`, table).Scan(&key); err != nil {
		return err
	}
	done, err := tx.Exec(fmt.Sprintf("UPDATE %[1]s SET %[2]s = ? WHERE (%[3]s) IN (SELECT %[3]s FROM %[1]s LIMIT 1)", table, name, key), value)
	if err == nil {
		if n, _ := done.RowsAffected(); n != 1 {
			err = fmt.Errorf("%d rows of %s: nothing to try it on", n, table)
		}
	}
	return err
}

// TestMigrationOfImpossibleRows: a database of schema 4 that holds what cannot be is brought up to date at
// once, loses nothing, not even what a user keeps there, and refuses more of it; its indexes and references stay.
func TestMigrationOfImpossibleRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	writer, err := handle.Open(handle.WriterDSN(path), 1)
	if err != nil {
		t.Fatal(err)
	}
	old := &Store{path: path, writer: writer}
	if err := old.migrate(t.Context(), schema.Steps()[:4]); err != nil {
		t.Fatal(err)
	}
	do(t, old, `CREATE TABLE notice (text); INSERT INTO notice VALUES ('of the user''s own');
		INSERT INTO setups VALUES (1, 'whip', 'attic', NULL); INSERT INTO segments VALUES (1, 'a', 6e6, 7e6);
		INSERT INTO surveys VALUES (1, 'record', 0, '', '', 50, '', '', 1, '', 0, '', 0, NULL, '');
		INSERT INTO sweeps VALUES (1, 1, -5, 1, 1, 9000000000000000), (2, 1, 1, 1, 1, 1000);
		INSERT INTO readings SELECT id, id, NULL, 1, 1000, 1, 6.5e6, 1, 1, 1, NULL, 0, 1e300, NULL, NULL, NULL, 1, 0, 0, 0, NULL, NULL, '' FROM sweeps;
		INSERT INTO carriers VALUES (1, 6.1e6, 7e304, 1, 1), (2, 6.1e6, 1, 1, 1)`)
	if err := writer.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for query, want := range map[string]int{`SELECT count(*) FROM carriers WHERE power = 7e304`: 1, `SELECT count(*) FROM readings WHERE floor_dbfs_hz = 1e300`: 2,
		`SELECT round FROM sweeps WHERE id = 1`: -5, `SELECT count(*) FROM notice`: 1, `SELECT count(*) FROM sqlite_schema WHERE type = 'index' AND sql IS NOT NULL`: 6} {
		var got int
		if err := s.reader.QueryRow(query).Scan(&got); err != nil || got != want {
			t.Errorf("%s: %d, %v, want %d", query, got, err, want)
		}
	}
	if _, err := s.writer.Exec(`INSERT INTO carriers VALUES (2, 6.2e6, 7e304, 1, 1, NULL)`); err == nil {
		t.Error("a power of 7e304 is taken")
	}
	// What is done to such a row for another reason is not refused.
	if err := s.FlagFrom(t.Context(), 1, 0, survey.FlagSetupDoubt); err != nil {
		t.Error(err)
	}
	err = s.Check(t.Context())
	if !isErr(err, ErrDamaged) || !strings.Contains(err.Error(), "carriers, reading 1, frequency_hz 6.1e+06: power 7e+304 is not") || strings.Contains(err.Error(), "as they were stored") {
		t.Errorf("%v, want the carrier named, and sweeps without a checksum not judged", err)
	}
	if _, err := s.writer.Exec(`DELETE FROM surveys`); err != nil {
		t.Error(err)
	}
	if got := len(all(t, s, Filter{})); got != 0 {
		t.Errorf("%d sweeps of a survey that was deleted", got)
	}
}
