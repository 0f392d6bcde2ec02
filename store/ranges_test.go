package store

import (
	"fmt"
	"math"
	"strings"
	"testing"

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
