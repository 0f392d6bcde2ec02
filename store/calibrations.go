package store

import (
	"context"
	"fmt"
	"math"
	"reflect"

	"nightfloor/survey"
)

// AddCalibration stores a calibration with all it found, in one transaction, which
// is on the disk when it returns, and sets its ID. Times are kept to the
// millisecond. Errors: ErrInvalid for figures that are no numbers, for words that
// survey does not have and for a calibration that names no receiver, ErrFull and
// others of errors.go; then nothing is stored and no ID set.
func (s *Store) AddCalibration(ctx context.Context, c *survey.Calibration) error {
	if c.Receiver == "" {
		return fmt.Errorf("store calibration: %w: it names no receiver; %s", ErrInvalid, mistake)
	}
	var id int64
	err := s.write(ctx, "store calibration", func(change change) (err error) {
		if id, err = change.add("calibrations", calibrationColumns(c)[1:]); err != nil {
			return err
		}
		clock := []survey.ClockError{}
		if c.Clock != nil {
			clock = append(clock, *c.Clock)
		}
		return first(
			addFound(change, id, "self_noise", c.Noise, noiseColumns),
			addFound(change, id, "droop", c.Droop, droopColumns),
			addFound(change, id, "level_references", c.Levels, levelColumns),
			addFound(change, id, "own_lines", c.Lines, lineColumns),
			addFound(change, id, "linearity", c.Linearity, linearityColumns),
			addFound(change, id, "clock_errors", clock, clockColumns))
	})
	if err != nil {
		return err
	}
	c.ID = id
	return nil
}

// RemoveCalibration removes calibrations with all they found, all of them or, after
// an error, none. Where the curve of its passband was taken out of a survey's readings, or of what
// another calibration measured, a calibration keeps the curve, under survey.CalibratePassband, until the
// last of them is removed. ErrUnknown: one of them is not there.
func (s *Store) RemoveCalibration(ctx context.Context, ids ...int64) error {
	return s.write(ctx, "remove calibration", func(c change) error {
		for _, id := range ids {
			n, err := c.run(`UPDATE calibrations SET kind = ?, droop_calibration = NULL WHERE id = ?`, survey.CalibratePassband, id)
			if err == nil && n == 0 {
				err = fmt.Errorf("calibration %d: %w; see nightfloor calibrate list", id, ErrUnknown)
			}
			if err != nil {
				return err
			}
			for _, table := range []string{"self_noise", "level_references", "own_lines", "linearity", "clock_errors"} {
				if _, err := c.run("DELETE FROM "+table+" WHERE calibration = ?", id); err != nil {
					return err
				}
			}
		}
		return c.dropCurves()
	})
}

// dropCurves removes curves that were kept of calibrations and are taken out of nothing any more.
func (c change) dropCurves() error {
	_, err := c.run(`DELETE FROM calibrations WHERE kind = ? AND id NOT IN (
		SELECT droop_calibration FROM surveys WHERE droop_calibration IS NOT NULL UNION
		SELECT droop_calibration FROM calibrations WHERE droop_calibration IS NOT NULL)`, survey.CalibratePassband)
	return err
}

func calibrationColumns(c *survey.Calibration) columns {
	return columns{{"id", &c.ID}, {"kind", &c.Kind}, {"receiver", &c.Receiver}, {"at_ms", &c.At}, {"note", &c.Note},
		{"droop_calibration", optional{new(c.DroopCalibration != 0), &c.DroopCalibration}}}
}

// The columns of what a calibration finds. number counts the rows within it.

func noiseColumns(number *int, n *survey.SelfNoise) columns {
	return columns{{"number", number}, {"segment", &n.Segment}, {"gain_db", &n.Gain}, {"density_dbfs_hz", &n.Density}, {"sigma_db", &n.Sigma}}
}

func droopColumns(number *int, d *survey.Droop) columns {
	return columns{{"number", number}, {"offset_hz", &d.Offset}, {"response_db", &d.Response}, {"sigma_db", &d.Sigma}}
}

func levelColumns(number *int, l *survey.LevelReference) columns {
	return columns{{"number", number}, {"frequency_hz", &l.Frequency}, {"gain_db", &l.Gain}, {"full_scale_dbm", &l.FullScale}, {"sigma_db", &l.Sigma}, {"basis", &l.Basis}, {"uncertainty_db", &l.Uncertainty}}
}

func lineColumns(number *int, l *survey.OwnLine) columns {
	return columns{{"number", number}, {"frequency_hz", &l.Frequency}, {"gain_db", &l.Gain}, {"level_dbfs", &l.Level}}
}

func linearityColumns(number *int, l *survey.Linearity) columns {
	return columns{{"number", number}, {"segment", &l.Segment}, {"gain_db", &l.Gain}, {"attenuation_db", &l.Attenuation},
		{"floor_drop_db", &l.FloorDrop}, {"floor_drop_sigma_db", &l.FloorSigma}, {"outside_drop_db", &l.OutsideDrop}, {"outside_drop_sigma_db", &l.OutsideSigma},
		{"carrier_drop_db", &l.CarrierDrop}, {"carrier_drop_sigma_db", &l.CarrierSigma}, {"carriers", &l.Carriers}, {"out_change_db", &l.OutChange}, {"verdict", &l.Verdict}}
}

func clockColumns(_ *int, k *survey.ClockError) columns {
	return columns{{"error_ppm", &k.PPM}, {"sigma_ppm", &k.Sigma}, {"stations", &k.Stations}}
}

// addFound stores what a calibration found. An infinite figure would serve no reading.
func addFound[T any](c change, id int64, table string, some []T, of func(*int, *T) columns) error {
	for i := range some {
		if name := infinite(of(&i, &some[i])); name != "" {
			return fmt.Errorf("%w: %s of %s is infinite; %s", ErrInvalid, name, table, mistake)
		}
	}
	_, err := addAll(c, table, "", some, func(i int, x *T) columns {
		return append(columns{{"calibration", &id}}, of(new(i+1), x)...)
	})
	return err
}

// infinite names a column whose figure is infinite, "" where none is.
func infinite(row columns) string {
	for _, c := range row {
		if g, ok := c.field.(*survey.Segment); ok {
			if name := infinite(segmentColumns(g)); name != "" {
				return name
			}
		} else if v := reflect.Indirect(reflect.ValueOf(c.field).Elem()); v.CanFloat() && math.IsInf(v.Float(), 0) {
			return c.name
		}
	}
	return ""
}

// Calibrations gives all calibrations with what they found, oldest first; all come
// from one state of the database.
func (s *Store) Calibrations(ctx context.Context) ([]survey.Calibration, error) {
	var all []survey.Calibration
	err := s.readNamed(ctx, "read calibrations", func(snap snapshot) (err error) {
		all, err = rows(ctx, snap, calibrationColumns, `FROM calibrations ORDER BY at_ms, id`)
		at := map[int64]*survey.Calibration{}
		for i := range all {
			at[all[i].ID] = &all[i]
		}
		return first(err,
			readFound(ctx, snap, at, "self_noise", noiseColumns, func(c *survey.Calibration, n survey.SelfNoise) { c.Noise = append(c.Noise, n) }),
			readFound(ctx, snap, at, "droop", droopColumns, func(c *survey.Calibration, d survey.Droop) { c.Droop = append(c.Droop, d) }),
			readFound(ctx, snap, at, "level_references", levelColumns, func(c *survey.Calibration, l survey.LevelReference) { c.Levels = append(c.Levels, l) }),
			readFound(ctx, snap, at, "own_lines", lineColumns, func(c *survey.Calibration, l survey.OwnLine) { c.Lines = append(c.Lines, l) }),
			readFound(ctx, snap, at, "linearity", linearityColumns, func(c *survey.Calibration, l survey.Linearity) { c.Linearity = append(c.Linearity, l) }),
			readFound(ctx, snap, at, "clock_errors", clockColumns, func(c *survey.Calibration, k survey.ClockError) { c.Clock = &k }))
	})
	return all, err
}

// readFound reads one table of what calibrations found and hands each row to take. One whose
// calibration is gone is for Check to tell.
func readFound[T any](ctx context.Context, snap snapshot, at map[int64]*survey.Calibration, table string, of func(*int, *T) columns, take func(*survey.Calibration, T)) error {
	type found struct {
		calibration int64
		row         T
	}
	all, err := rows(ctx, snap, func(f *found) columns {
		return append(columns{{"calibration", &f.calibration}}, of(new(int), &f.row)...)
	}, "FROM "+table+" ORDER BY 1, 2")
	for _, f := range all {
		if c := at[f.calibration]; c != nil {
			take(c, f.row)
		}
	}
	return err
}
