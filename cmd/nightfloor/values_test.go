package main

import (
	"cmp"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/page"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/store"
	"nightfloor/survey"
)

var (
	spoils    = flag.Int("spoils", 100, "databases with one value spoiled of which all reports are made")
	spoilFrom = flag.Int("spoil-from", 0, "number of the first of them")
)

// TestSpoiledValues: a database in which one value of one row cannot be, or is another than it
// was, gives every report, or one error line; database check tells of what belongs to a sweep, and
// says what else it finds in one line.
func TestSpoiledValues(t *testing.T) {
	notInShort(t)
	t.Parallel() // others wait meanwhile
	whole := soundDatabase(t)
	path := filepath.Join(t.TempDir(), "spoiled.db")
	if err := os.WriteFile(path, whole, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := first(reportAll(t, path), checkAll(t, path)); err != nil {
		t.Fatalf("before anything was spoiled: %v", err)
	}
	for n := *spoilFrom; n < *spoilFrom+*spoils; n++ {
		if err := os.WriteFile(path, whole, 0o644); err != nil {
			t.Fatal(err)
		}
		what, sealed := spoil(t, path, rand.New(rand.NewPCG(uint64(n), 17)))
		// What hangs is stopped after a minute: a sound report takes a fiftieth of a second.
		watch := time.AfterFunc(time.Minute, func() { panic(fmt.Sprintf("spoil %d: %s: the reports hang", n, what)) })
		err := reportAll(t, path)
		watch.Stop()
		var p panicked
		switch {
		case errors.As(err, &p):
			t.Errorf("spoil %d: %s: %s", n, what, p)
		case err != nil && (strings.TrimSpace(err.Error()) == "" || strings.Contains(err.Error(), "\n")):
			t.Errorf("spoil %d: %s: no single line: %q", n, what, err)
		}
		if n%checkEach > 0 {
			continue
		}
		err = checkAll(t, path)
		if err == nil && sealed || err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("spoil %d: %s: database check says %v", n, what, err)
		}
	}
}

// checkEach is how many spoiled databases are made for one that is checked: a check takes as long as
// all reports.
const checkEach = 4

var first = cmp.Or[error]

// checkAll checks a database as `database check` does.
func checkAll(t *testing.T, path string) error {
	db, err := store.OpenReadOnly(t.Context(), path)
	if err != nil {
		return err
	}
	defer db.Close()
	return db.Check(t.Context())
}

// panicked is where a report panicked.
type panicked string

func (p panicked) Error() string { return string(p) }

// reportAll makes every report of a database, in every format, and the page.
func reportAll(t *testing.T, path string) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = panicked(fmt.Sprintf("%v\n%s", p, debug.Stack()))
		}
	}()
	db, err := store.OpenReadOnly(t.Context(), path)
	if err != nil {
		return err
	}
	defer db.Close()
	report, _, err := loadReport(t.Context(), db, input.Options{}, reports.All, true)
	if err != nil {
		return err
	}
	if err := text.WriteSummary(io.Discard, *report, reporttest.Zone, text.Width); err != nil {
		return err
	}
	for word, table := range reportTables {
		answer := table.of(report)
		if err := result.WriteJSON(io.Discard, answer); err != nil {
			return err
		}
		if word == "" {
			continue
		}
		if err := text.WriteCSV(io.Discard, answer); err != nil {
			return err
		}
		if err := text.WriteTable(io.Discard, answer, reporttest.Zone, text.Width); err != nil {
			return err
		}
	}
	return page.Write(io.Discard, report)
}

// soundDatabase makes a database that holds a row of every table: a night of a house with two
// supplies, through a whip, a wire and a loop that was turned. It gives the file.
func soundDatabase(t *testing.T) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sound.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	ok := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	din := reporttest.NewDin(5, reporttest.Evening()[2], reporttest.Radiator{Spacing: 71e3, Warming: 1, Hours: []reporttest.HourSpan{{From: 0, To: 9}},
		Level: []float64{9, 7, 5, 3, 1, 2, 4}, Swing: []float64{0.6, 0.5, 0.4, 0.3, 0.2, 0.2, 0.3}, Depth: 0.5})
	din.Rounds = 6
	din.Radiators[0].Level, din.Radiators[0].Swing = []float64{3, 1, -2, 0, 1, 2, 3}, []float64{0.2, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1}
	din.Setups = slices.Delete(din.Setups, 1, 2)
	for deg := 0.0; deg < 180; deg += 36 {
		din.Setups = append(din.Setups, survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(deg)})
	}
	in := din.Input()
	sv := in.Surveys[0]
	sv.Simulated, sv.Receiver, sv.Version, sv.End = false, "dongle", "test", sv.Start.Add(3*time.Hour)
	id, err := db.BeginSurvey(t.Context(), sv)
	ok(err)
	random := rand.New(rand.NewPCG(5, 6))
	var far []survey.Event
	for i, s := range in.Sweeps {
		s.Survey = id
		furnish(random, s, i == 0)
		ok(db.AddSweep(t.Context(), s))
		if i%2 == 0 {
			ok(db.AddVisit(t.Context(), survey.Visit{Survey: id, Number: s.Visit, Round: s.Round, Asked: s.Setup, Reached: s.Setup, Bearing: s.Setup.Bearing, Start: s.Start, Said: "done"}))
		}
		if i%40 == 20 {
			far = append(far, survey.Event{Survey: id, At: s.Start, Text: "kettle on", Repeaked: []string{"", "loop"}[i/40%2]})
		}
	}
	_, err = db.AddEvents(t.Context(), far)
	ok(err)
	ok(db.AddGap(t.Context(), survey.Gap{Survey: id, From: sv.Start, To: sv.Start.Add(time.Minute), Why: "receiver unplugged"}))
	ok(db.EndSurvey(t.Context(), id, sv.End, "all rounds done"))
	imports, _, err := db.ImportSurvey(t.Context(), "first night", "test")
	ok(err)
	other := din.Sweep(random, []int{0, 0}, 0, 0, 1, din.Start.Add(24*time.Hour))
	other.Survey = imports
	ok(db.AddImported(t.Context(), other, survey.Recording{Digest: "d", File: "x.cu8"}))
	segment := reporttest.DinSegments[0]
	for _, c := range []survey.Calibration{
		{Kind: survey.CalibrateNoise, Noise: []survey.SelfNoise{{Segment: segment, Density: -110, Sigma: 0.1}, {Segment: segment, Gain: 10, Density: -104, Sigma: 0.1}},
			Droop: []survey.Droop{{Offset: -8e5, Response: -0.6, Sigma: 0.03}, {Offset: 8e5, Response: -0.6, Sigma: 0.03}}},
		{Kind: survey.CalibrateLevel, Levels: []survey.LevelReference{{Frequency: 6e6, FullScale: -20, Sigma: 0.5, Basis: survey.BasisGenerator}, {Frequency: 6e6, Gain: 10, FullScale: -30, Sigma: 0.5, Basis: survey.BasisGenerator}}},
		{Kind: survey.CalibrateLines, Lines: []survey.OwnLine{{Frequency: 5.93e6, Level: -60}}},
		{Kind: survey.CalibrateLinearity, Linearity: []survey.Linearity{{Segment: segment, Attenuation: 10, FloorDrop: new(survey.DB(9.8)), FloorSigma: new(survey.DB(0.1)), OutsideDrop: new(survey.DB(10.1)), OutsideSigma: new(survey.DB(0.3)),
			CarrierDrop: new(survey.DB(10.0)), CarrierSigma: new(survey.DB(0.5)), Carriers: 4, OutChange: new(survey.DB(0.2)), Verdict: survey.VerdictExternal}}},
		{Kind: survey.CalibrateClock, Clock: &survey.ClockError{PPM: 1.5, Sigma: 0.1, Stations: 3}},
	} {
		c.Receiver, c.At = "dongle", din.Start
		ok(db.AddCalibration(t.Context(), &c))
	}
	ok(db.Close())
	loosen(t, path)
	whole, err := os.ReadFile(path)
	ok(err)
	return whole
}

// furnish puts stations, a picture and what else a row has into the readings of a sweep.
func furnish(random *rand.Rand, s *survey.Sweep, other bool) {
	for i := range s.Readings {
		r := &s.Readings[i]
		for c := range 5 {
			sigma := 1e-9
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: r.Segment.Low + survey.Hz(20e3+15e3*float64(c)+random.NormFloat64()),
				Power: sigma * 100 * random.ExpFloat64(), Sigma: sigma, Detected: true})
		}
		r.SampleRate, r.VdBandwidth, r.Vd, r.Occupancy = 2.4e6, 10e3, new(survey.DB(1.06)), 0.2
		r.Quality = survey.Quality{DC: -50, IQImbalance: -47}
		if other {
			r.Quality.Flags = []string{survey.FlagLowDrive}
			r.Findings = append(r.Findings, survey.Finding{Kind: survey.FindingImpulses, Low: r.Segment.Low, High: r.Segment.High, Rate: 3, Strength: 12, Confidence: 0.9999},
				survey.Finding{Kind: survey.FindingHump, Low: r.Segment.Low, High: r.Segment.High, Strength: 4, Confidence: 0.9999})
		}
		r.Spectrum = &survey.Spectrum{First: r.Segment.Low, Step: 5000, ENBW: 1.5, Looks: 40, Density: make([]float32, 60)}
		for b := range r.Spectrum.Density {
			r.Spectrum.Density[b] = float32(reporttest.DinFloor)
		}
	}
}

// sqlDo runs statements on a file as any SQLite client could.
func sqlDo(t *testing.T, path string, do func(db *sql.DB)) {
	t.Helper()
	db, err := sql.Open("sqlite", path+"?_pragma=journal_mode(DELETE)&_pragma=ignore_check_constraints(1)&_pragma=foreign_keys(0)&_pragma=synchronous(0)")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	do(db)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// loosen takes the types and the NOT NULL out of the schema, so that anything can stand
// anywhere, as in a damaged file.
func loosen(t *testing.T, path string) {
	t.Helper()
	sqlDo(t, path, func(db *sql.DB) {
		_, err := db.Exec(`PRAGMA writable_schema = on;
			UPDATE sqlite_schema SET sql = replace(replace(replace(sql, 'STRICT, WITHOUT', 'WITHOUT'), ') STRICT', ')'), ' NOT NULL', '') WHERE type = 'table';
			PRAGMA writable_schema = off`)
		if err != nil {
			t.Fatal(err)
		}
	})
}

// spoil puts one value where it cannot be, or should not, and says which, and whether a sweep's
// checksum is to tell it.
func spoil(t *testing.T, path string, random *rand.Rand) (what string, sealed bool) {
	t.Helper()
	sqlDo(t, path, func(db *sql.DB) {
		tables := stringsOf(t, db, `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name`)
		for { // until a value is taken: a key may not stand there twice
			table := tables[random.IntN(len(tables))]
			names := stringsOf(t, db, `SELECT name FROM pragma_table_info(?) ORDER BY cid`, table)
			name := names[random.IntN(len(names))]
			keys := stringsOf(t, db, `SELECT name FROM pragma_table_info(?) WHERE pk > 0 ORDER BY pk`, table)
			key := "(" + strings.Join(keys, ", ") + ")"
			var rows int
			if err := db.QueryRow("SELECT count(*) FROM " + table).Scan(&rows); err != nil || rows == 0 {
				t.Fatalf("%s: %d rows, %v", table, rows, err)
			}
			row := random.IntN(rows)
			at := fmt.Sprintf(" WHERE %s = (SELECT %s FROM %s ORDER BY %s LIMIT 1 OFFSET %d)", key, strings.Trim(key, "()"), table, strings.Trim(key, "()"), row)
			var was any
			if err := db.QueryRow("SELECT " + name + " FROM " + table + at).Scan(&was); err != nil {
				t.Fatal(err)
			}
			value := spoiled(random, was)
			if _, err := db.Exec("UPDATE "+table+" SET "+name+" = ?"+at, value); err == nil {
				what = fmt.Sprintf("%s.%s of row %d: %v became %T %v", table, name, row, was, value, value)
				sealed = slices.Contains([]string{"sweeps", "readings", "carriers", "findings"}, table) && !same(was, value) && name != "checksum"
				return
			}
		}
	})
	return what, sealed
}

// same tells whether two values are written alike: 0 and 0.0 are the same in a column.
func same(a, b any) bool { return fmt.Sprint(a) == fmt.Sprint(b) }

// stringsOf gives a column of texts.
func stringsOf(t *testing.T, db *sql.DB, query string, args ...any) (all []string) {
	t.Helper()
	rows, err := db.Query(query, args...)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var one string
		if err := rows.Scan(&one); err != nil {
			t.Fatal(err)
		}
		all = append(all, one)
	}
	return all
}

// spoiled gives a value in place of another: one bit of it flipped, or anything.
func spoiled(random *rand.Rand, was any) any {
	anything := []any{nil, "NaN", "", "<script>\x1b[2J", []byte{0, 255}, 0, -1, 1, math.MaxInt64, math.MinInt64, int64(1) << 40, -int64(1) << 53,
		0.0, -0.5, 1e-300, -1e-300, 5e-324, 1e300, -1e300, math.MaxFloat64, math.Inf(1), math.Inf(-1), 1e9, 1e12, 1e15, 7e18, 359.99999999}
	if random.IntN(2) == 0 {
		return anything[random.IntN(len(anything))]
	}
	bit := random.IntN(64)
	switch was := was.(type) {
	case int64:
		return was ^ 1<<bit
	case float64:
		return math.Float64frombits(math.Float64bits(was) ^ 1<<bit)
	case []byte:
		changed := slices.Clone(was)
		changed[random.IntN(len(changed))] ^= 1 << (bit % 8)
		return changed
	case string:
		return strings.Repeat(was+"x", 1+bit*bit)
	}
	return anything[random.IntN(len(anything))]
}
