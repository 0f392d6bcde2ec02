package store

import (
	"maps"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"nightfloor/store/handle"
	"nightfloor/store/schema"
	"nightfloor/survey"
)

const dongle = "rtlsdr:serial=00000042, direct sampling Q, 2.4 MS/s"

// calibrated is a calibration that found something of every sort.
func calibrated(kind string, at time.Time) survey.Calibration {
	band := survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	return survey.Calibration{Kind: kind, Receiver: dongle, At: at, Note: "50 Ω at the plug – 20 min warm",
		Noise: []survey.SelfNoise{{Segment: band, Gain: 29.7, Density: -121.25, Sigma: 0.03}, {Segment: band, Gain: 0, Density: -130, Sigma: 0}},
		Levels: []survey.LevelReference{{Frequency: 9.65e6, Gain: 29.7, FullScale: -31.5, Sigma: 0.5, Basis: survey.BasisGenerator, Uncertainty: new(survey.DB(0.75))},
			{Frequency: 9.65e6, Gain: 0, FullScale: -2, Sigma: 3, Basis: survey.BasisFigure},
			{Frequency: 9.65e6, Gain: 0, FullScale: -2.5, Sigma: 1, Basis: survey.BasisSource, Uncertainty: new(survey.DB(0))}},
		Droop: []survey.Droop{{Offset: -8e5, Response: -0.75, Sigma: 0.03125}, {Offset: 8e5, Response: 0.5}},
		Lines: []survey.OwnLine{{Frequency: 9.6e6, Gain: 29.7, Level: -88.5}},
		Linearity: []survey.Linearity{
			{Segment: band, Gain: 29.7, Attenuation: 10, FloorDrop: new(survey.DB(9.5)), FloorSigma: new(survey.DB(0.25)), OutsideDrop: new(survey.DB(10.5)), OutsideSigma: new(survey.DB(0.5)),
				CarrierDrop: new(survey.DB(0)), CarrierSigma: new(survey.DB(0.75)), Carriers: 7, OutChange: new(survey.DB(-0.5)), Verdict: survey.VerdictExternal},
			{Segment: band, Gain: 40.2, Attenuation: 6, Verdict: survey.VerdictUnclear}},
		Clock: &survey.ClockError{PPM: -1.25, Sigma: 0.125, Stations: 3}}
}

// What is stored comes back equal, oldest first, whatever came in first.
func TestCalibrationRoundTrip(t *testing.T) {
	s := openTemp(t)
	if got, err := s.Calibrations(t.Context()); err != nil || len(got) != 0 {
		t.Errorf("an empty database: %v, %v", got, err)
	}
	late, early := calibrated(survey.CalibrateNoise, evening), calibrated(survey.CalibrateLevel, evening.Add(-time.Hour))
	bare := survey.Calibration{Kind: survey.CalibrateLines, Receiver: "another", At: evening.Add(time.Hour), DroopCalibration: 1}
	for _, c := range []*survey.Calibration{&late, &early, &bare} {
		if err := s.AddCalibration(t.Context(), c); err != nil || c.ID == 0 {
			t.Fatalf("%v, number %d", err, c.ID)
		}
	}
	got, err := s.Calibrations(t.Context())
	if want := []survey.Calibration{early, late, bare}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, want)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
	// With a calibration goes what it found, and nothing else.
	do(t, s, "DELETE FROM calibrations WHERE receiver = 'another' OR kind = 'noise'")
	if got, err = s.Calibrations(t.Context()); err != nil || !reflect.DeepEqual(got, []survey.Calibration{early}) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, early)
	}
	for table, want := range map[string]int{"self_noise": 2, "level_references": 3, "droop": 2, "own_lines": 1, "linearity": 2, "clock_errors": 1} {
		var rows int
		if err := s.reader.QueryRow("SELECT count(*) FROM " + table).Scan(&rows); err != nil || rows != want {
			t.Errorf("%s: %d rows, %v, want %d", table, rows, err, want)
		}
	}
}

// With a calibration goes what it found; with an unknown one goes none.
func TestRemoveCalibration(t *testing.T) {
	s := openTemp(t)
	var all []survey.Calibration
	for i := range 3 {
		c := calibrated(survey.CalibrateLevel, evening.Add(time.Duration(i)*time.Hour))
		if err := s.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
		all = append(all, c)
	}
	if err := s.RemoveCalibration(t.Context(), all[0].ID, 77); !isErr(err, ErrUnknown) || !strings.Contains(err.Error(), "calibration 77") {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if got, err := s.Calibrations(t.Context()); err != nil || !reflect.DeepEqual(got, all) {
		t.Errorf("after an error: %v\ngot  %+v\nwant %+v", err, got, all)
	}
	if err := s.RemoveCalibration(t.Context(), all[0].ID, all[2].ID); err != nil {
		t.Error(err)
	}
	if got, err := s.Calibrations(t.Context()); err != nil || !reflect.DeepEqual(got, all[1:2]) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, all[1:2])
	}
	for table, want := range map[string]int{"self_noise": 2, "level_references": 3, "droop": 2, "own_lines": 1, "linearity": 2, "clock_errors": 1} {
		var rows int
		if err := s.reader.QueryRow("SELECT count(*) FROM " + table).Scan(&rows); err != nil || rows != want {
			t.Errorf("%s: %d rows, %v, want %d", table, rows, err, want)
		}
	}
	// A number is never given twice.
	c := calibrated(survey.CalibrateNoise, evening)
	if err := s.AddCalibration(t.Context(), &c); err != nil || c.ID <= all[2].ID {
		t.Errorf("%v, number %d after %d", err, c.ID, all[2].ID)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// Of a calibration whose curve of the passband was taken out of something the curve stays, and goes with the
// last that it was taken out of.
func TestRemovedCurveStays(t *testing.T) {
	s := openTemp(t)
	add := func(kind string, droop int64) int64 {
		t.Helper()
		c := calibrated(kind, evening)
		if c.DroopCalibration = droop; kind != survey.CalibrateNoise {
			c.Droop = nil
		}
		if err := s.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
		return c.ID
	}
	// is tells what there is: kinds by number.
	is := func(want map[int64]string) {
		t.Helper()
		all, err := s.Calibrations(t.Context())
		got := map[int64]string{}
		for _, c := range all {
			got[c.ID] = c.Kind
			if bare := len(c.Noise)+len(c.Levels)+len(c.Lines)+len(c.Linearity) == 0 && c.Clock == nil && c.DroopCalibration == 0; bare != (c.Kind == survey.CalibratePassband) {
				t.Errorf("%+v", c)
			}
			if c.Kind == survey.CalibratePassband && len(c.Droop) != 2 {
				t.Errorf("%d points of the curve are left", len(c.Droop))
			}
		}
		if err != nil || !maps.Equal(got, want) {
			t.Errorf("%v, %v, want %v", got, err, want)
		}
	}
	noise := add(survey.CalibrateNoise, 0)
	level := add(survey.CalibrateLevel, noise)
	id, err := s.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Start: evening, DroopCalibration: noise})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := s.RemoveCalibration(t.Context(), noise); err != nil {
			t.Error(err)
		}
		is(map[int64]string{noise: survey.CalibratePassband, level: survey.CalibrateLevel})
	}
	if err := s.RemoveSurvey(t.Context(), id); err != nil {
		t.Error(err)
	}
	is(map[int64]string{noise: survey.CalibratePassband, level: survey.CalibrateLevel})
	if err := s.RemoveCalibration(t.Context(), level); err != nil {
		t.Error(err)
	}
	is(nil)
	noise = add(survey.CalibrateNoise, 0)
	if err := s.RemoveCalibration(t.Context(), noise); err != nil { // of which nobody has the curve
		t.Error(err)
	}
	is(nil)
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// What cannot be kept, or serves no reading, is refused whole.
func TestCalibrationRefusals(t *testing.T) {
	s := openTemp(t)
	for name, harm := range map[string]func(*survey.Calibration){
		"no receiver": func(c *survey.Calibration) { c.Receiver = "" },
		"no kind":     func(c *survey.Calibration) { c.Kind = "guess" },
		"no basis":    func(c *survey.Calibration) { c.Levels[1].Basis = "guess" },
		"noise":       func(c *survey.Calibration) { c.Noise[0].Density = survey.DBFSPerHz(math.Inf(-1)) },
		"low edge":    func(c *survey.Calibration) { c.Noise[1].Segment.Low = survey.Hz(math.Inf(-1)) },
		"high edge":   func(c *survey.Calibration) { c.Linearity[1].Segment.High = survey.Hz(math.Inf(1)) },
		"edge":        func(c *survey.Calibration) { c.Linearity[0].Segment.High = survey.Hz(math.NaN()) },
		"endless":     func(c *survey.Calibration) { *c.Linearity[0].CarrierDrop = survey.DB(math.Inf(1)) },
		"level":       func(c *survey.Calibration) { c.Levels[0].FullScale = survey.DBm(math.NaN()) },
		"line":        func(c *survey.Calibration) { c.Lines[0].Frequency = survey.Hz(math.NaN()) },
		"drop":        func(c *survey.Calibration) { *c.Linearity[0].FloorDrop = survey.DB(math.NaN()) },
		"clock":       func(c *survey.Calibration) { c.Clock.Sigma = math.NaN() },
	} {
		c := calibrated(survey.CalibrateNoise, evening)
		harm(&c)
		if err := s.AddCalibration(t.Context(), &c); !isErr(err, ErrInvalid) || c.ID != 0 {
			t.Errorf("%s: %v, number %d; want ErrInvalid and none", name, err, c.ID)
		}
	}
	if got, err := s.Calibrations(t.Context()); err != nil || len(got) != 0 {
		t.Errorf("%d stored, %v", len(got), err)
	}
	read, err := OpenReadOnly(t.Context(), s.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	c := calibrated(survey.CalibrateNoise, evening)
	if err := read.AddCalibration(t.Context(), &c); !isErr(err, ErrReadOnly) {
		t.Errorf("%v, want ErrReadOnly", err)
	}
}

// A database of an older schema is told apart when it is to be read, and brought up to
// date, with all that is in it, when it is opened for writing.
func TestFromOlderSchemas(t *testing.T) {
	for version := 1; version < len(schema.Steps()); version++ {
		path := filepath.Join(t.TempDir(), "old.db")
		db, err := handle.Open(handle.WriterDSN(path), 1)
		if err != nil {
			t.Fatal(err)
		}
		old := &Store{path: path, writer: db, reader: db}
		if err := old.migrate(t.Context(), schema.Steps()[:version]); err != nil {
			t.Fatal(err)
		}
		do(t, old, `INSERT INTO surveys (id, kind, simulated, site, locator, mains_hz, surroundings, plan, receiver, seed, version, start_ms, ending)
			VALUES (1, 'record', 1, '', '', 0, '', '', '', 0, '', 0, '')`)
		id := int64(1)
		before := night{seeded(), 2, 3, 10}.sweep(id, 0)
		for i := range before.Readings {
			before.Readings[i].Findings = nil // older than findings
		}
		carriers := before.Readings[0].Carriers
		for i := range carriers {
			carriers[i].Quiet = 0 // older than that
		}
		before.Readings[0].Carriers, before.Readings[1].Carriers = nil, nil
		var readings []int64
		err = old.write(t.Context(), "store sweep", func(c change) (err error) {
			before.ID, readings, err = insertSweep(c, before)
			for _, l := range carriers {
				_, ran := c.run(`INSERT INTO carriers (reading, frequency_hz, power, sigma, detected) VALUES (?, ?, ?, ?, ?)`, readings[0], float64(l.Frequency), l.Power, l.Sigma, l.Detected)
				err = first(err, ran)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		for i := range before.Readings {
			before.Readings[i].ID, before.Readings[i].Spectrum = readings[i], nil // spectra are not read back with sweeps
		}
		before.Readings[0].Carriers = carriers
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if err := errOf(OpenReadOnly(t.Context(), path)); !isErr(err, ErrOlder) {
			t.Errorf("schema %d: %v, want ErrOlder", version, err)
		}
		s, err := Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		if h, err := schema.ReadHeader(t.Context(), s.reader); err != nil || h.Version != len(schema.Steps()) {
			t.Errorf("%+v, %v, want schema %d", h, err, len(schema.Steps()))
		}
		if after := all(t, s, Filter{}); !reflect.DeepEqual(after, []*survey.Sweep{before}) {
			t.Errorf("schema %d: sweeps became\n%+v\nwere\n%+v", version, after, before)
		}
		c := calibrated(survey.CalibrateLinearity, evening)
		if err := s.AddCalibration(t.Context(), &c); err != nil {
			t.Error(err)
		}
		if got, err := s.Calibrations(t.Context()); err != nil || !reflect.DeepEqual(got, []survey.Calibration{c}) {
			t.Errorf("%+v, %v", got, err)
		}
		if err := s.AddSweep(t.Context(), night{seeded(), 2, 3, 10}.sweep(id, 1)); err != nil {
			t.Error(err)
		}
		later, err := s.BeginSurvey(t.Context(), survey.Survey{Kind: survey.KindRecord, Start: evening, DroopCalibration: c.ID})
		if err != nil {
			t.Error(err)
		}
		if got, err := s.Surveys(t.Context()); err != nil || len(got) != 2 || got[0].ID != id || got[0].DroopCalibration != 0 || got[1].ID != later || got[1].DroopCalibration != c.ID {
			t.Errorf("schema %d: %+v, %v", version, got, err)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Error(err)
		}
	}
}

// Check finds what belongs to no calibration, and self-noise of no segment.
func TestCheckCalibrations(t *testing.T) {
	for table, harm := range map[string]string{
		"self_noise":       "DELETE FROM segments",
		"level_references": "UPDATE level_references SET calibration = 77",
		"own_lines":        "UPDATE own_lines SET calibration = 77",
		"linearity":        "UPDATE linearity SET segment = 77",
		"clock_errors":     "UPDATE clock_errors SET calibration = 77",
	} {
		s := openTemp(t)
		c := calibrated(survey.CalibrateNoise, evening)
		if err := s.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
		if _, err := s.writer.Exec(harm); err == nil {
			t.Errorf("%s: %q passed with foreign keys on", table, harm)
		}
		do(t, s, "PRAGMA foreign_keys = off; "+harm)
		if err := s.Check(t.Context()); !isErr(err, ErrDamaged) || !strings.Contains(err.Error(), "a row of "+table) {
			t.Errorf("%s: %v, want ErrDamaged", table, err)
		}
	}
}
