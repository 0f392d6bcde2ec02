package store

import (
	"context"
	"fmt"
	"math"

	"nightfloor/survey"
)

// AddSweep stores a sweep with its readings, carriers, findings and spectra in one
// transaction, which is on the disk when it returns, and sets the IDs of the
// sweep and its readings. Of two carriers at one frequency of a reading the
// detected one is kept, else the first. Densities of spectra are kept to
// 0.1 dB, quiet errors of carriers to a quarter of a dB, times to the millisecond. Errors: ErrUnknown for a survey that is not
// there, ErrInvalid for figures that are no numbers, ErrFull and others of
// errors.go; then nothing is stored and no ID set.
func (s *Store) AddSweep(ctx context.Context, sweep *survey.Sweep) error {
	return s.addSweep(ctx, sweep, func(change, int64) error { return nil })
}

// addSweep is AddSweep with something more to store in the same transaction.
func (s *Store) addSweep(ctx context.Context, sweep *survey.Sweep, also func(c change, sweep int64) error) error {
	if sweep.Setup == (survey.Setup{}) {
		return fmt.Errorf("store sweep: %w: the sweep has no setup; %s", ErrInvalid, mistake)
	}
	var id int64
	var readings []int64
	err := s.write(ctx, "store sweep", func(c change) (err error) {
		if id, readings, err = insertSweep(c, sweep); err != nil {
			return err
		}
		if err := also(c, id); err != nil {
			return err
		}
		if err := s.guard.addedSweep(c, readings); err != nil {
			return err
		}
		return c.seal(id)
	})
	if err != nil {
		return err
	}
	sweep.ID = id
	for i := range sweep.Readings {
		sweep.Readings[i].ID = readings[i]
	}
	return nil
}

// insertSweep stores a sweep with its readings, and gives their numbers.
func insertSweep(c change, sweep *survey.Sweep) (id int64, readings []int64, err error) {
	if id, err = c.add("sweeps", sweepColumns(sweep)[1:]); err != nil {
		return 0, nil, err
	}
	readings = make([]int64, len(sweep.Readings))
	for i := range sweep.Readings {
		if readings[i], err = insertReading(c, id, &sweep.Readings[i]); err != nil {
			return 0, nil, fmt.Errorf("segment %s: %w", sweep.Readings[i].Segment.Name, err)
		}
	}
	return id, readings, nil
}

func sweepColumns(s *survey.Sweep) columns {
	return columns{{"id", &s.ID}, {"survey", &s.Survey}, {"round", &s.Round}, {"visit", &s.Visit}, {"setup", &s.Setup}, {"start_ms", &s.Start}}
}

// A readingRow is a reading as its row has it.
type readingRow struct {
	survey.Reading
	sweep int64
	floor survey.Floor // what Reading.Floor points to
	known bool         // there is a floor
}

func (r *readingRow) columns() columns {
	q := &r.Quality
	return columns{{"id", &r.ID}, {"sweep", &r.sweep}, {"segment", &r.Segment}, {"start_ms", &r.Start}, {"duration_ns", &r.Duration},
		{"centre_hz", &r.Centre}, {"sample_rate_hz", &r.SampleRate}, {"bin_hz", &r.BinWidth}, {"resolution_hz", &r.Resolution},
		{"gain_db", optional{&r.Gain.Known, &r.Gain.DB}}, {"gain_exact", &r.Gain.Exact}, {"floor_dbfs_hz", optional{&r.known, &r.floor.Density}},
		{"floor_sigma_db", orNaN{(*float64)(&r.floor.Sigma)}}, {"quiet_dbfs_hz", orNaN{(*float64)(&r.floor.Quiet)}}, {"vd_db", &r.Vd}, {"vd_bandwidth_hz", &r.VdBandwidth},
		{"occupancy", &r.Occupancy}, {"clipped_share", &q.ClippedShare}, {"dropped_samples", &q.DroppedSamples},
		{"dc_dbfs", orNaN{(*float64)(&q.DC)}}, {"iq_imbalance_dbc", orNaN{(*float64)(&q.IQImbalance)}}, {"flags", &q.Flags}}
}

// insertReading stores a reading with its carriers, findings and spectrum.
func insertReading(c change, sweep int64, r *survey.Reading) (int64, error) {
	row := readingRow{Reading: *r, sweep: sweep, floor: survey.Floor{Sigma: survey.DB(math.NaN()), Quiet: survey.DBFSPerHz(math.NaN())}}
	if row.known = r.Floor != nil; row.known {
		row.floor = *r.Floor
	}
	row.Gain.Exact = r.Gain.Known && r.Gain.Exact
	id, err := c.add("readings", row.columns()[1:])
	if err != nil {
		return id, err
	}
	return id, first(insertCarriers(c, id, r.Carriers), insertFindings(c, id, r.Findings), insertSpectrum(c, id, r.Spectrum))
}

// AddCarriers adds carriers to readings that are stored already, by the
// readings' numbers: those measured by force when a round ends. Where a reading
// has a carrier at that frequency, a detected one stays or replaces one measured
// by force; otherwise the one already there stays. All or nothing is stored.
// Errors: ErrUnknown for a reading that is not there, ErrInvalid.
func (s *Store) AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error {
	return addToReadings(ctx, s, "carriers", carriers, insertCarriers)
}

// insertCarriers stores the carriers of one reading.
func insertCarriers(c change, reading int64, carriers []survey.Carrier) error {
	_, err := addAll(c, "carriers", `
		VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (reading, frequency_hz) DO UPDATE
		SET power = excluded.power, sigma = excluded.sigma, detected = excluded.detected, quiet_quarters = excluded.quiet_quarters
		WHERE excluded.detected > carriers.detected`, carriers, func(_ int, c *survey.Carrier) columns {
		return columns{{"reading", &reading}, {"frequency_hz", &c.Frequency}, {"power", &c.Power}, {"sigma", &c.Sigma}, {"detected", &c.Detected},
			{"quiet_quarters", optional{new(c.Quiet > 0 && c.Sigma > 0), new(quarters(c))}}}
	})
	return err
}

// quarters gives by how many quarters of a dB a carrier's error without a line is under sigma: steps that
// take a byte in the database, half of what the noise itself is known to. Nothing widens it to less.
func quarters(c *survey.Carrier) int {
	return max(0, int(math.Round(40*math.Log10(c.Sigma/c.Quiet))))
}

// quietOf is what quarters were made of.
func quietOf(sigma float64, quarters int64) float64 {
	return sigma * math.Pow(10, -float64(quarters)/40)
}
