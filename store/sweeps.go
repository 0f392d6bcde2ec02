package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"time"

	"nightfloor/survey"
)

// SweepsOf is Sweeps for all sweeps of one survey.
func (s *Store) SweepsOf(ctx context.Context, id int64, yield func(*survey.Sweep) error) error {
	return s.Sweeps(ctx, Filter{Survey: id}, yield)
}

// Sweeps hands the sweeps that filter means to yield, in the order of their
// surveys and starts, with readings, carriers (by frequency) and findings, without
// spectra. All come from one state of the database. A sweep belongs to yield
// and may be kept. An error of yield ends the walk and is given back, wrapped.
func (s *Store) Sweeps(ctx context.Context, filter Filter, yield func(*survey.Sweep) error) error {
	return s.read(ctx, "read sweeps", func(snap snapshot) error {
		walk, err := newSweepReader(snap, filter)
		if err != nil {
			return err
		}
		defer walk.close()
		for {
			if err := ctx.Err(); err != nil {
				return err
			}
			sweep, err := walk.next()
			if err != nil || sweep == nil {
				return err
			}
			if err := yield(sweep); err != nil {
				return err
			}
		}
	})
}

// A sweepReader merges four queries in the same order: sweeps, readings, carriers, findings.
type sweepReader struct {
	sweeps, readings, carriers, findings *cursor
	setups                               map[int64]survey.Setup
	segments                             map[int64]survey.Segment
	// counts of the last sweep and reading, to size the next
	nReadings, nCarriers int
	pool                 []survey.Carrier // room for carriers of many readings
}

// newSweepReader begins the four queries.
func newSweepReader(snap snapshot, filter Filter) (w *sweepReader, err error) {
	w = &sweepReader{setups: map[int64]survey.Setup{}, segments: map[int64]survey.Segment{}}
	if err := w.readNames(snap); err != nil {
		return nil, err
	}
	sweeps, readings, carriers, findings, args := filter.sweepQueries()
	for _, q := range []struct {
		into **cursor
		text string
	}{{&w.sweeps, sweeps}, {&w.readings, readings}, {&w.carriers, carriers}, {&w.findings, findings}} {
		if *q.into, err = snap.query(q.text, args...); err != nil {
			w.close()
			return nil, err
		}
	}
	return w, nil
}

// sweepQueries gives the four queries and the arguments they share.
func (f Filter) sweepQueries() (sweeps, readings, carriers, findings string, args []any) {
	from, args := f.readings("")
	readings = `SELECT r.sweep, r.id, r.segment, r.start_ms, r.duration_ns, r.centre_hz, r.sample_rate_hz, r.bin_hz,
		r.resolution_hz, r.gain_db, r.gain_exact, r.floor_dbfs_hz, r.floor_sigma_db, r.quiet_dbfs_hz, r.vd_db,
		r.vd_bandwidth_hz, r.occupancy, r.clipped_share, r.dropped_samples, r.dc_dbfs, r.iq_imbalance_dbc, r.flags` +
		from + byReading
	from, _ = f.readings("CROSS JOIN carriers c ON c.reading = r.id")
	// Each column costs a sixth of the time of a long read: detected goes into
	// the lowest bit of the first.
	carriers = `SELECT 2 * c.reading + c.detected, c.frequency_hz, c.power, c.sigma` + from + byReading + `, c.frequency_hz`
	from, _ = f.readings("CROSS JOIN findings f ON f.reading = r.id")
	findings = `SELECT f.reading, f.kind, f.low_hz, f.high_hz, f.spacing_hz, f.width_hz, f.lines, f.envelope_hz, f.mains_hz,
		f.depth, f.shape, f.rate_hz, f.regular, f.strength_db, f.confidence, f.power, f.sigma` + from + byReading + `, f.number`
	sweeps = `SELECT s.id, s.survey, s.round, s.visit, s.setup, s.start_ms` + f.sweeps() + bySweep
	return sweeps, readings, carriers, findings, args
}

// readNames reads the setups and segments, few rows each.
func (w *sweepReader) readNames(snap snapshot) error {
	ctx := context.Background()
	return first(
		snap.each(ctx, func(row []driver.Value) error {
			w.setups[integer(row[0])] = setupOf(row[1:4])
			return nil
		}, `SELECT id, antenna, placement, bearing_deg FROM setups`),
		snap.each(ctx, func(row []driver.Value) error {
			w.segments[integer(row[0])] = segmentOf(row[1:4])
			return nil
		}, `SELECT id, name, low_hz, high_hz FROM segments`))
}

// close ends the queries that were begun.
func (w *sweepReader) close() {
	for _, c := range []*cursor{w.sweeps, w.readings, w.carriers, w.findings} {
		if c != nil {
			c.close()
		}
	}
}

// next gives the next sweep, nil behind the last.
func (w *sweepReader) next() (*survey.Sweep, error) {
	if w.sweeps.done {
		return nil, nil
	}
	row := w.sweeps.row
	sweep := &survey.Sweep{ID: integer(row[0]), Survey: integer(row[1]), Round: int(integer(row[2])),
		Visit: int(integer(row[3])), Setup: w.setups[integer(row[4])], Start: instant(row[5])}
	if w.nReadings > 0 {
		sweep.Readings = make([]survey.Reading, 0, w.nReadings)
	}
	for !w.readings.done && integer(w.readings.row[0]) == sweep.ID {
		sweep.Readings = append(sweep.Readings, w.reading())
		if err := w.readings.step(); err != nil {
			return nil, err
		}
		r := &sweep.Readings[len(sweep.Readings)-1]
		var err error
		if r.Carriers, err = w.carriersOf(r.ID); err != nil {
			return nil, err
		}
		if r.Findings, err = w.findingsOf(r.ID); err != nil {
			return nil, err
		}
	}
	w.nReadings = len(sweep.Readings)
	if w.nReadings == 0 {
		sweep.Readings = nil
	}
	return sweep, w.sweeps.step()
}

// reading gives the reading of the row in hand.
func (w *sweepReader) reading() survey.Reading {
	row := w.readings.row
	r := survey.Reading{
		ID: integer(row[1]), Segment: w.segments[integer(row[2])],
		Start: instant(row[3]), Duration: time.Duration(integer(row[4])),
		Centre: survey.Hz(float(row[5])), SampleRate: survey.Hz(float(row[6])),
		BinWidth: survey.Hz(float(row[7])), Resolution: survey.Hz(float(row[8])),
		Vd: ratioOf(row[14]), VdBandwidth: survey.Hz(float(row[15])), Occupancy: float(row[16]),
		Quality: survey.Quality{ClippedShare: float(row[17]), DroppedSamples: integer(row[18]),
			DC: survey.DBFS(float(row[19])), IQImbalance: survey.DB(float(row[20])), Flags: splitFlags(text(row[21]))},
	}
	if gain, ok := row[9].(float64); ok {
		r.Gain = survey.Gain{DB: survey.DB(gain), Known: true, Exact: integer(row[10]) == 1}
	}
	if floor, ok := row[11].(float64); ok {
		r.Floor = &survey.Floor{Density: survey.DBFSPerHz(floor), Sigma: survey.DB(float(row[12])),
			Quiet: survey.DBFSPerHz(float(row[13]))}
	}
	return r
}

// carriersOf gathers the carriers of a reading, nil where it has none.
func (w *sweepReader) carriersOf(reading int64) ([]survey.Carrier, error) {
	// Slices of one big array save an allocation a reading.
	if cap(w.pool)-len(w.pool) < 2*w.nCarriers+1 {
		w.pool = make([]survey.Carrier, 0, max(4096, 4*w.nCarriers))
	}
	first := len(w.pool)
	for !w.carriers.done {
		row := w.carriers.row
		key := integer(row[0])
		if key>>1 != reading {
			break
		}
		w.pool = append(w.pool, survey.Carrier{Frequency: survey.Hz(float(row[1])), Power: float(row[2]),
			Sigma: float(row[3]), Detected: key&1 == 1})
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
