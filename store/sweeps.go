package store

import (
	"context"
	"fmt"

	"nightfloor/store/ranges"
	"nightfloor/survey"
)

// SweepsOf is Sweeps for all sweeps of one survey.
func (s *Store) SweepsOf(ctx context.Context, id int64, yield func(*survey.Sweep) error) error {
	return s.Sweeps(ctx, Filter{Survey: id}, yield)
}

// Sweeps hands the sweeps that filter means to yield, in the order of their
// surveys and starts, with readings, carriers (by frequency) and findings, without
// spectra. Rows that hold what cannot be are left out with what belongs to them
// (LeftOut). All come from one state of the database. A sweep belongs to yield
// and may be kept. An error of yield ends the walk and is given back, wrapped.
func (s *Store) Sweeps(ctx context.Context, filter Filter, yield func(*survey.Sweep) error) error {
	return s.readNamed(ctx, "read sweeps", func(snap snapshot) error {
		walk, err := newSweepReader(snap, filter)
		if err != nil {
			return err
		}
		defer walk.close()
		for !walk.sweeps.done {
			if err := ctx.Err(); err != nil {
				return err
			}
			sweep, err := walk.next()
			if err != nil {
				return err
			}
			if sweep == nil {
				continue
			}
			if err := yield(sweep); err != nil {
				return err
			}
		}
		return nil
	})
}

// A sweepReader merges four queries in the same order: sweeps, readings, carriers, findings.
type sweepReader struct {
	snapshot
	sweeps, readings, carriers, findings *cursor
	// what their rows are read into
	sweep                                     survey.Sweep
	reading                                   readingRow
	finding                                   survey.Finding
	sweepFields, readingFields, findingFields columns
	// counts of the last sweep and reading, to size the next
	nReadings, nCarriers                  int
	pool                                  []survey.Carrier // room for carriers of many readings
	frequencies, powers, sigmas, quarters *ranges.Limits   // of carriers
}

// newSweepReader begins the four queries.
func newSweepReader(snap snapshot, filter Filter) (w *sweepReader, err error) {
	limits := ranges.ByColumn()
	w = &sweepReader{snapshot: snap, frequencies: limits["frequency_hz"], powers: limits["power"], sigmas: limits["sigma"], quarters: limits["quiet_quarters"]}
	w.leftOut.begin("sweeps", "readings", "carriers", "findings")
	w.sweepFields, w.readingFields, w.findingFields = sweepColumns(&w.sweep), w.reading.columns(), findingColumns(&w.finding)
	for _, q := range []struct {
		into **cursor
		text string
	}{
		{&w.sweeps, "SELECT " + w.sweepFields.names("s.") + " FROM sweeps s" + meantSweeps + bySweep},
		{&w.readings, "SELECT " + w.readingFields.names("r.") + fromReadings + meant + byReading},
		// Each column costs a sixth of the time of a long read: detected goes into
		// the lowest two bits of the first, 2 for what cannot be.
		{&w.carriers, "SELECT 4 * c.reading + CASE c.detected WHEN 0 THEN 0 WHEN 1 THEN 1 ELSE 2 END, c.frequency_hz, c.power, c.sigma, c.quiet_quarters" + fromReadings +
			" CROSS JOIN carriers c ON c.reading = r.id" + meant + byReading + ", c.frequency_hz"},
		{&w.findings, "SELECT f.reading, " + w.findingFields.names("f.") + fromReadings +
			" CROSS JOIN findings f ON f.reading = r.id" + meant + byReading + ", f.number"},
	} {
		if *q.into, err = snap.query(q.text, filter.args()...); err != nil {
			w.close()
			return nil, err
		}
	}
	return w, nil
}

// close ends the queries that were begun.
func (w *sweepReader) close() {
	for _, c := range []*cursor{w.sweeps, w.readings, w.carriers, w.findings} {
		if c != nil {
			c.close()
		}
	}
}

// next gives the next sweep, nil for one that is left out. There must be one.
func (w *sweepReader) next() (*survey.Sweep, error) {
	can := w.scan(w.sweeps.row, w.sweepFields)
	id, of := integer(w.sweeps.row[0]), integer(w.sweeps.row[1])
	sweep := w.sweep
	var err error
	if sweep.Readings, err = w.readingsOf(id, of); err != nil {
		return nil, err
	}
	if !can {
		w.leftOut["sweeps"][of]++
		return nil, w.sweeps.step()
	}
	return &sweep, w.sweeps.step()
}

// readingsOf gathers the readings of a sweep, nil where it has none.
func (w *sweepReader) readingsOf(sweep, id int64) (all []survey.Reading, err error) {
	if w.nReadings > 0 {
		all = make([]survey.Reading, 0, w.nReadings)
	}
	for !w.readings.done && integer(w.readings.row[1]) == sweep {
		can := w.scan(w.readings.row, w.readingFields)
		r := w.reading.Reading
		if w.reading.known {
			r.Floor = new(w.reading.floor)
		}
		if err := w.readings.step(); err != nil {
			return nil, err
		}
		if r.Carriers, err = w.carriersOf(r.ID, id); err != nil {
			return nil, err
		}
		if r.Findings, err = w.findingsOf(r.ID, id); err != nil {
			return nil, err
		}
		if can {
			all = append(all, r)
		} else {
			w.leftOut["readings"][id]++
		}
	}
	if w.nReadings = len(all); w.nReadings == 0 {
		return nil, nil
	}
	return all, nil
}

// carriersOf gathers the carriers of a reading of a survey, nil where it has none.
func (w *sweepReader) carriersOf(reading, id int64) ([]survey.Carrier, error) {
	// Slices of one big array save an allocation a reading.
	if cap(w.pool)-len(w.pool) < 2*w.nCarriers+1 {
		w.pool = make([]survey.Carrier, 0, max(4096, 4*w.nCarriers))
	}
	first := len(w.pool)
	for !w.carriers.done {
		row := w.carriers.row
		key := integer(row[0])
		if key>>2 != reading {
			break
		}
		f, power, sigma := float(row[1]), float(row[2]), float(row[3])
		quiet, can := 0.0, true
		if quarters, known := row[4].(int64); known {
			quiet, can = quietOf(sigma, quarters), w.quarters.Hold(float64(quarters))
		}
		if w.frequencies.Hold(f) && w.powers.Hold(power) && w.sigmas.Hold(sigma) && can && key&2 == 0 { // none of them holds NaN
			w.pool = append(w.pool, survey.Carrier{Frequency: survey.Hz(f), Power: power, Sigma: sigma, Quiet: quiet, Detected: key&1 == 1})
		} else {
			w.leftOut["carriers"][id]++
		}
		if err := w.carriers.step(); err != nil {
			return nil, fmt.Errorf("reading %d: %w", reading, err)
		}
	}
	w.nCarriers = len(w.pool) - first
	if w.nCarriers == 0 {
		return nil, nil
	}
	return w.pool[first:len(w.pool):len(w.pool)], nil
}
