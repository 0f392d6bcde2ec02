package store

import (
	"context"
	"fmt"
	"math"
	"strings"

	"nightfloor/survey"
)

// AddSweep stores a sweep with its readings, carriers, findings and spectra in one
// transaction, which is on the disk when it returns, and sets the IDs of the
// sweep and its readings. Of two carriers at one frequency of a reading the
// detected one is kept, else the first. Densities of spectra are kept to
// 0.1 dB, times to the millisecond. Errors: ErrUnknown for a survey that is not
// there, ErrInvalid for figures that are no numbers, ErrFull and others of
// errors.go; then nothing is stored and no ID set.
func (s *Store) AddSweep(ctx context.Context, sweep *survey.Sweep) error {
	return s.addSweep(ctx, sweep, func(change, int64) error { return nil })
}

// addSweep is AddSweep with something more to store in the same transaction.
func (s *Store) addSweep(ctx context.Context, sweep *survey.Sweep, also func(c change, sweep int64) error) error {
	if err := checkSweep(sweep); err != nil {
		return fmt.Errorf("store sweep: %w", err)
	}
	var id int64
	readings := make([]int64, len(sweep.Readings))
	err := s.write(ctx, "store sweep", func(c change) (err error) {
		if id, err = insertSweep(c, sweep); err != nil {
			return err
		}
		for i := range sweep.Readings {
			r := &sweep.Readings[i]
			if readings[i], err = insertReading(c, id, r); err != nil {
				return fmt.Errorf("segment %s: %w", r.Segment.Name, err)
			}
		}
		for i, r := range sweep.Readings {
			if err := first(insertCarriers(c, readings[i], r.Carriers), insertFindings(c, readings[i], r.Findings)); err != nil {
				return fmt.Errorf("segment %s: %w", r.Segment.Name, err)
			}
		}
		return also(c, id)
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

// insertSweep stores the sweep itself.
func insertSweep(c change, sweep *survey.Sweep) (int64, error) {
	setup, err := c.setup(sweep.Setup)
	if err != nil {
		return 0, err
	}
	return c.insert(`INSERT INTO sweeps (survey, round, visit, setup, start_ms) VALUES (?, ?, ?, ?, ?)`,
		sweep.Survey, sweep.Round, sweep.Visit, setup, sweep.Start.UnixMilli())
}

// insertReading stores a reading and its spectrum, not its carriers and findings.
func insertReading(c change, sweep int64, r *survey.Reading) (int64, error) {
	segment, err := c.segment(r.Segment)
	if err != nil {
		return 0, err
	}
	var gain, floor, sigma, quiet any
	if r.Gain.Known {
		gain = float64(r.Gain.DB)
	}
	if f := r.Floor; f != nil {
		floor, sigma, quiet = float64(f.Density), real(float64(f.Sigma)), real(float64(f.Quiet))
	}
	q := r.Quality
	id, err := c.insert(`
		INSERT INTO readings (sweep, segment, start_ms, duration_ns, centre_hz, sample_rate_hz, bin_hz, resolution_hz,
			gain_db, gain_exact, floor_dbfs_hz, floor_sigma_db, quiet_dbfs_hz, vd_db, vd_bandwidth_hz, occupancy,
			clipped_share, dropped_samples, dc_dbfs, iq_imbalance_dbc, flags)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		sweep, segment, r.Start.UnixMilli(), int64(r.Duration), float64(r.Centre), float64(r.SampleRate),
		float64(r.BinWidth), float64(r.Resolution), gain, bit(r.Gain.Known && r.Gain.Exact), floor, sigma, quiet, ratio(r.Vd),
		float64(r.VdBandwidth), r.Occupancy, q.ClippedShare, q.DroppedSamples, real(float64(q.DC)),
		real(float64(q.IQImbalance)), strings.Join(q.Flags, ","))
	if err != nil || r.Spectrum == nil {
		return id, err
	}
	return id, insertSpectrum(c, id, r.Spectrum)
}

// checkSweep refuses what could not come back as it was: figures that are no
// numbers where a number is needed, and flags that would fall apart.
func checkSweep(sweep *survey.Sweep) error {
	if sweep.Setup == (survey.Setup{}) {
		return fmt.Errorf("%w: the sweep has no setup; this is a mistake in nightfloor, please report it", ErrInvalid)
	}
	for i := range sweep.Readings {
		r := &sweep.Readings[i]
		if field := badFigure(r); field != "" {
			return fmt.Errorf("segment %s: %w: %s; this is a mistake in nightfloor, please report it",
				r.Segment.Name, ErrInvalid, field)
		}
		if err := first(checkCarriers(r.Carriers), checkFindings(r.Findings)); err != nil {
			return fmt.Errorf("segment %s: %w", r.Segment.Name, err)
		}
	}
	return nil
}

// badFigure names a field of the reading that cannot be kept, or gives "".
func badFigure(r *survey.Reading) string {
	for _, f := range []struct {
		name string
		x    float64
	}{
		{"low edge", float64(r.Segment.Low)}, {"high edge", float64(r.Segment.High)},
		{"centre", float64(r.Centre)}, {"sample rate", float64(r.SampleRate)},
		{"bin width", float64(r.BinWidth)}, {"resolution", float64(r.Resolution)},
		{"gain", float64(r.Gain.DB)}, {"Vd bandwidth", float64(r.VdBandwidth)},
		{"occupancy", r.Occupancy}, {"clipped share", r.Quality.ClippedShare},
	} {
		if math.IsNaN(f.x) {
			return f.name
		}
	}
	if r.Floor != nil && math.IsNaN(float64(r.Floor.Density)) {
		return "floor"
	}
	if r.Vd != nil && math.IsNaN(float64(*r.Vd)) {
		return "Vd"
	}
	for _, flag := range r.Quality.Flags {
		if flag == "" || strings.Contains(flag, ",") {
			return fmt.Sprintf("flag %q", flag)
		}
	}
	return ""
}
