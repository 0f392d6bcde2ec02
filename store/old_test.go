package store

import (
	"math"
	"path/filepath"
	"reflect"
	"testing"

	"nightfloor/store/handle"
	"nightfloor/store/schema"
	"nightfloor/survey"
)

// TestSweepsOfSchema7: carriers stored before their quiet errors were are read as before, without them.
// Their checksum, made by a program of then, stays true when the database is brought up to date, and when
// carriers that have them are stored into it; copies keep both.
func TestSweepsOfSchema7(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	writer, err := handle.Open(handle.WriterDSN(path), 1)
	must(t, err)
	old := &Store{path: path, writer: writer}
	must(t, old.migrate(t.Context(), schema.Steps()[:7]))
	do(t, old, `INSERT INTO setups VALUES (1, 'whip', 'attic', NULL); INSERT INTO segments VALUES (1, 'a', 6e6, 7e6);
		INSERT INTO surveys VALUES (1, 'record', 0, '', '', 50, '', '', 1, '', 0, '', 0, NULL, '');
		INSERT INTO sweeps VALUES (1, 1, 1, 1, 1, 1000, 3494815966);
		INSERT INTO readings VALUES (1, 1, NULL, 1, 1000, 1, 6.5e6, 1, 1, 1, NULL, 0, -100, 0.1, -101, NULL, 1, 0, 0, 0, NULL, NULL, '');
		INSERT INTO carriers VALUES (1, 6.1e6, 1e-7, 2e-9, 1), (1, 6.2e6, -1e-9, 1e-9, 0)`)
	must(t, writer.Close())
	s, err := Open(t.Context(), path)
	must(t, err)
	defer s.Close()
	must(t, s.Check(t.Context()))
	want := []survey.Carrier{{Frequency: 6.1e6, Power: 1e-7, Sigma: 2e-9, Detected: true}, {Frequency: 6.2e6, Power: -1e-9, Sigma: 1e-9}}
	if got := all(t, s, Filter{})[0].Readings[0].Carriers; !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	more := survey.Carrier{Frequency: 6.3e6, Power: 3e-9, Sigma: 2e-9, Quiet: quietOf(2e-9, 12)}
	found := survey.Carrier{Frequency: 6.2e6, Power: 3e-8, Sigma: 3e-9, Quiet: quietOf(3e-9, 31), Detected: true} // takes the place of what was forced
	must(t, s.AddCarriers(t.Context(), map[int64][]survey.Carrier{1: {more, found}}))
	must(t, s.Check(t.Context()))
	// Copies keep both, however they are made.
	folder := t.TempDir()
	must(t, s.Backup(t.Context(), filepath.Join(folder, "backup.db")))
	must(t, s.salvage(t.Context(), filepath.Join(folder, "salvaged.db")))
	must(t, s.Compact(t.Context()))
	for _, path := range []string{path, filepath.Join(folder, "backup.db"), filepath.Join(folder, "salvaged.db")} {
		copied, err := OpenReadOnly(t.Context(), path)
		must(t, err)
		defer copied.Close()
		must(t, copied.Check(t.Context()))
		var sealed int
		must(t, copied.reader.QueryRow("SELECT count(checksum) FROM sweeps").Scan(&sealed))
		if got := all(t, copied, Filter{})[0].Readings[0].Carriers; !reflect.DeepEqual(got, []survey.Carrier{want[0], found, more}) || sealed != 1 {
			t.Errorf("%s, with %d checksums: %+v, want %+v first, then %+v and %+v", path, sealed, got, want[0], found, more)
		}
	}
}

// TestLevelsOfSchema8: level references stored before it was asked how well what they rest on is known are
// read without that; new ones beside them have it.
func TestLevelsOfSchema8(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	writer, err := handle.Open(handle.WriterDSN(path), 1)
	must(t, err)
	old := &Store{path: path, writer: writer}
	must(t, old.migrate(t.Context(), schema.Steps()[:8]))
	do(t, old, `INSERT INTO calibrations VALUES (1, 'level', 'a dongle', 1000, '');
		INSERT INTO level_references VALUES (1, 1, 9.65e6, 20, -40.5, 0.01, 'generator');
		INSERT INTO segments VALUES (1, 'a', 6e6, 7e6);
		INSERT INTO linearity VALUES (1, 1, 1, 20, 10, 9.5, NULL, 0, 'external')`)
	must(t, writer.Close())
	s, err := Open(t.Context(), path)
	must(t, err)
	defer s.Close()
	now := calibrated(survey.CalibrateLevel, evening)
	must(t, s.AddCalibration(t.Context(), &now))
	must(t, s.Check(t.Context()))
	got, err := s.Calibrations(t.Context())
	before := []survey.LevelReference{{Frequency: 9.65e6, Gain: 20, FullScale: -40.5, Sigma: 0.01, Basis: survey.BasisGenerator}}
	if err != nil || len(got) != 2 || !reflect.DeepEqual(got[0].Levels, before) || !reflect.DeepEqual(got[1].Levels, now.Levels) {
		t.Errorf("%+v (%v), want %+v and %+v", got, err, before, now.Levels)
	}
	drops := []survey.Linearity{{Segment: survey.Segment{Name: "a", Low: 6e6, High: 7e6}, Gain: 20, Attenuation: 10, FloorDrop: new(survey.DB(9.5)), Verdict: survey.VerdictExternal}}
	if !reflect.DeepEqual(got[0].Linearity, drops) || !reflect.DeepEqual(got[1].Linearity, now.Linearity) {
		t.Errorf("%+v, want %+v and %+v", got, drops, now.Linearity)
	}
}

// TestQuietErrors: what is read back is within half a quarter of a dB of what was stored, 2.9 %; an error
// that would be wider without a line is taken for sigma; one that is not known stays so.
func TestQuietErrors(t *testing.T) {
	s := openTemp(t)
	sweep := night{seeded(), 1, 0, 0}.sweep(begin(t, s), 0)
	var want []float64
	for i, share := range []float64{0, 1e-6, 0.003, 0.1, 0.52, 0.97, 1, 1.3} {
		sigma := 3e-9
		sweep.Readings[0].Carriers = append(sweep.Readings[0].Carriers, survey.Carrier{Frequency: survey.Hz(6e6 + 5e3*i), Power: 1e-9, Sigma: sigma, Quiet: share * sigma})
		want = append(want, min(share, 1)*sigma)
	}
	must(t, s.AddSweep(t.Context(), sweep))
	for i, c := range all(t, s, Filter{})[0].Readings[0].Carriers {
		if c.Quiet != want[i] && !(math.Abs(c.Quiet/want[i]-1) < 0.0293) {
			t.Errorf("%g of sigma %g is read as %g", want[i], c.Sigma, c.Quiet)
		}
	}
}

// TestVisitsOfSchema8: visits stored before their wirings were have none; those stored since keep them, in copies too.
func TestVisitsOfSchema8(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	writer, err := handle.Open(handle.WriterDSN(path), 1)
	must(t, err)
	old := &Store{path: path, writer: writer}
	must(t, old.migrate(t.Context(), schema.Steps()[:8]))
	do(t, old, `INSERT INTO setups VALUES (1, 'whip', 'attic', NULL);
		INSERT INTO surveys VALUES (1, 'record', 0, '', '', 50, '', '', 1, '', 0, '', 0, NULL, '');
		INSERT INTO visits VALUES (1, 1, 1, 1, 1, NULL, 1000, 'done')`)
	must(t, writer.Close())
	s, err := Open(t.Context(), path)
	must(t, err)
	defer s.Close()
	whip := survey.Setup{Antenna: "whip", Placement: "attic"}
	crossed := survey.Wiring{FeedLines: "crossed", Idle: "50 ohm", Chokes: "in"}
	must(t, s.AddVisit(t.Context(), survey.Visit{Survey: 1, Number: 2, Round: 1, Asked: whip, Reached: whip, Start: evening, Wiring: crossed}))
	must(t, s.Check(t.Context()))
	folder := t.TempDir()
	must(t, s.Backup(t.Context(), filepath.Join(folder, "backup.db")))
	must(t, s.salvage(t.Context(), filepath.Join(folder, "salvaged.db")))
	for _, path := range []string{path, filepath.Join(folder, "backup.db"), filepath.Join(folder, "salvaged.db")} {
		copied, err := OpenReadOnly(t.Context(), path)
		must(t, err)
		defer copied.Close()
		visits, err := copied.Visits(t.Context(), 1)
		must(t, err)
		if len(visits) != 2 || visits[0].Said != "done" || visits[0].Wiring != (survey.Wiring{}) || visits[1].Wiring != crossed {
			t.Errorf("%s: %+v, want none and %v", path, visits, crossed)
		}
	}
}
