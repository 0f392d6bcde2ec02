package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"math"

	"nightfloor/survey"
)

// AddCalibration stores a calibration with all it found, in one transaction, which
// is on the disk when it returns, and sets its ID. Times are kept to the
// millisecond. Errors: ErrInvalid for figures that are no numbers, for words that
// survey does not have and for a calibration that names no receiver, ErrFull and
// others of errors.go; then nothing is stored and no ID set.
func (s *Store) AddCalibration(ctx context.Context, c *survey.Calibration) error {
	if err := checkCalibration(c); err != nil {
		return fmt.Errorf("store calibration: %w", err)
	}
	var id int64
	err := s.write(ctx, "store calibration", func(change change) (err error) {
		id, err = change.insert(`INSERT INTO calibrations (kind, receiver, at_ms, note) VALUES (?, ?, ?, ?)`,
			c.Kind, c.Receiver, c.At.UnixMilli(), c.Note)
		if err != nil {
			return err
		}
		return insertCalibrated(change, id, c)
	})
	if err != nil {
		return err
	}
	c.ID = id
	return nil
}

// RemoveCalibration removes calibrations with all they found, all of them or, after
// an error, none. ErrUnknown: one of them is not there.
func (s *Store) RemoveCalibration(ctx context.Context, ids ...int64) error {
	return s.write(ctx, "remove calibration", func(c change) error {
		for _, id := range ids {
			n, err := c.run(`DELETE FROM calibrations WHERE id = ?`, id)
			if err == nil && n == 0 {
				err = fmt.Errorf("calibration %d: %w; see nightfloor calibrate list", id, ErrUnknown)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// insertCalibrated stores what a calibration found. The error is the first there is.
func insertCalibrated(change change, id int64, c *survey.Calibration) error {
	_, noise := insertAll(change, "self-noise", `INSERT INTO self_noise (calibration, number, segment, gain_db, density_dbfs_hz, sigma_db) VALUES (?, ?, ?, ?, ?, ?)`,
		c.Noise, func(i int, n survey.SelfNoise) ([]any, error) {
			segment, err := change.segment(n.Segment)
			return []any{id, i + 1, segment, float64(n.Gain), float64(n.Density), float64(n.Sigma)}, err
		})
	_, levels := insertAll(change, "level reference", `INSERT INTO level_references (calibration, number, frequency_hz, gain_db, full_scale_dbm, sigma_db, basis) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		c.Levels, func(i int, l survey.LevelReference) ([]any, error) {
			return []any{id, i + 1, float64(l.Frequency), float64(l.Gain), float64(l.FullScale), float64(l.Sigma), l.Basis}, nil
		})
	_, lines := insertAll(change, "own line", `INSERT INTO own_lines (calibration, number, frequency_hz, gain_db, level_dbfs) VALUES (?, ?, ?, ?, ?)`,
		c.Lines, func(i int, l survey.OwnLine) ([]any, error) {
			return []any{id, i + 1, float64(l.Frequency), float64(l.Gain), float64(l.Level)}, nil
		})
	_, linearity := insertAll(change, "linearity", `INSERT INTO linearity (calibration, number, segment, gain_db, attenuation_db, floor_drop_db, carrier_drop_db, carriers, verdict)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		c.Linearity, func(i int, l survey.Linearity) ([]any, error) {
			segment, err := change.segment(l.Segment)
			return []any{id, i + 1, segment, float64(l.Gain), float64(l.Attenuation), ratio(l.FloorDrop), ratio(l.CarrierDrop), l.Carriers, l.Verdict}, err
		})
	err := first(noise, levels, lines, linearity)
	if k := c.Clock; k != nil && err == nil {
		_, err = change.run(`INSERT INTO clock_errors (calibration, error_ppm, sigma_ppm, stations) VALUES (?, ?, ?, ?)`,
			id, k.PPM, k.Sigma, k.Stations)
	}
	return err
}

// checkCalibration refuses what could not come back as it was, or serves no reading.
func checkCalibration(c *survey.Calibration) error {
	if c.Receiver == "" {
		return fmt.Errorf("%w: it names no receiver; this is a mistake in nightfloor, please report it", ErrInvalid)
	}
	figures := map[string][]float64{}
	add := func(name string, x ...float64) { figures[name] = append(figures[name], x...) }
	for _, n := range c.Noise {
		add("self-noise", float64(n.Segment.Low), float64(n.Segment.High), float64(n.Gain), float64(n.Density), float64(n.Sigma))
	}
	for _, l := range c.Levels {
		add("level reference", float64(l.Frequency), float64(l.Gain), float64(l.FullScale), float64(l.Sigma))
		if l.Basis != survey.BasisGenerator && l.Basis != survey.BasisFigure {
			return fmt.Errorf("%w: a level reference rests on %q; this is a mistake in nightfloor, please report it", ErrInvalid, l.Basis)
		}
	}
	for _, l := range c.Lines {
		add("own line", float64(l.Frequency), float64(l.Gain), float64(l.Level))
	}
	for _, l := range c.Linearity {
		add("linearity", float64(l.Segment.Low), float64(l.Segment.High), float64(l.Gain), float64(l.Attenuation))
		for _, drop := range []*survey.DB{l.FloorDrop, l.CarrierDrop} {
			if drop != nil {
				add("linearity", float64(*drop))
			}
		}
	}
	if c.Clock != nil {
		add("clock error", c.Clock.PPM, c.Clock.Sigma)
	}
	for name, some := range figures {
		for _, x := range some {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("%w: %s; this is a mistake in nightfloor, please report it", ErrInvalid, name)
			}
		}
	}
	switch c.Kind {
	case survey.CalibrateNoise, survey.CalibrateLevel, survey.CalibrateLinearity, survey.CalibrateLines, survey.CalibrateClock:
		return nil
	}
	return fmt.Errorf("%w: %q is no kind of calibration; this is a mistake in nightfloor, please report it", ErrInvalid, c.Kind)
}

// Calibrations gives all calibrations with what they found, oldest first; all come
// from one state of the database.
func (s *Store) Calibrations(ctx context.Context) ([]survey.Calibration, error) {
	var all []survey.Calibration
	err := s.read(ctx, "read calibrations", func(snap snapshot) error {
		at := map[int64]int{} // where each stands in all
		err := snap.each(ctx, func(row []driver.Value) error {
			c := survey.Calibration{ID: integer(row[0]), Kind: text(row[1]), Receiver: text(row[2]), At: instant(row[3]), Note: text(row[4])}
			at[c.ID] = len(all)
			all = append(all, c)
			return nil
		}, `SELECT id, kind, receiver, at_ms, note FROM calibrations ORDER BY at_ms, id`)
		if err != nil {
			return err
		}
		// What a calibration found begins with its number; one whose calibration is
		// gone is for Check to tell.
		each := func(query string, take func(c *survey.Calibration, row []driver.Value)) error {
			return snap.each(ctx, func(row []driver.Value) error {
				if i, ok := at[integer(row[0])]; ok {
					take(&all[i], row[1:])
				}
				return nil
			}, query)
		}
		return first(
			each(`SELECT x.calibration, x.gain_db, x.density_dbfs_hz, x.sigma_db, g.name, g.low_hz, g.high_hz
				FROM self_noise x JOIN segments g ON g.id = x.segment ORDER BY x.calibration, x.number`,
				func(c *survey.Calibration, row []driver.Value) {
					c.Noise = append(c.Noise, survey.SelfNoise{Segment: segmentOf(row[3:]), Gain: survey.DB(float(row[0])),
						Density: survey.DBFSPerHz(float(row[1])), Sigma: survey.DB(float(row[2]))})
				}),
			each(`SELECT calibration, frequency_hz, gain_db, full_scale_dbm, sigma_db, basis FROM level_references ORDER BY calibration, number`,
				func(c *survey.Calibration, row []driver.Value) {
					c.Levels = append(c.Levels, survey.LevelReference{Frequency: survey.Hz(float(row[0])), Gain: survey.DB(float(row[1])),
						FullScale: survey.DBm(float(row[2])), Sigma: survey.DB(float(row[3])), Basis: text(row[4])})
				}),
			each(`SELECT calibration, frequency_hz, gain_db, level_dbfs FROM own_lines ORDER BY calibration, number`,
				func(c *survey.Calibration, row []driver.Value) {
					c.Lines = append(c.Lines, survey.OwnLine{Frequency: survey.Hz(float(row[0])), Gain: survey.DB(float(row[1])),
						Level: survey.DBFS(float(row[2]))})
				}),
			each(`SELECT x.calibration, x.gain_db, x.attenuation_db, x.floor_drop_db, x.carrier_drop_db, x.carriers, x.verdict, g.name, g.low_hz, g.high_hz
				FROM linearity x JOIN segments g ON g.id = x.segment ORDER BY x.calibration, x.number`,
				func(c *survey.Calibration, row []driver.Value) {
					c.Linearity = append(c.Linearity, survey.Linearity{Segment: segmentOf(row[6:]), Gain: survey.DB(float(row[0])),
						Attenuation: survey.DB(float(row[1])), FloorDrop: ratioOf(row[2]), CarrierDrop: ratioOf(row[3]),
						Carriers: int(integer(row[4])), Verdict: text(row[5])})
				}),
			each(`SELECT calibration, error_ppm, sigma_ppm, stations FROM clock_errors`,
				func(c *survey.Calibration, row []driver.Value) {
					c.Clock = &survey.ClockError{PPM: float(row[0]), Sigma: float(row[1]), Stations: int(integer(row[2]))}
				}))
	})
	return all, err
}
