package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"time"

	"nightfloor/survey"
)

// insertSpectrum stores the spectrum of a reading.
func insertSpectrum(c change, reading int64, sp *survey.Spectrum) error {
	blob, err := encodeDensity(sp.Density)
	if err != nil {
		return err
	}
	_, err = c.run(`INSERT INTO spectra (reading, first_hz, step_hz, enbw, looks, density) VALUES (?, ?, ?, ?, ?, ?)`,
		reading, float64(sp.First), float64(sp.Step), sp.ENBW, sp.Looks, blob)
	return err
}

// Spectrum gives the spectrum of a reading, nil where none was kept. Densities
// are multiples of 0.1 dB. ErrUnknown: there is no such reading.
func (s *Store) Spectrum(ctx context.Context, reading int64) (sp *survey.Spectrum, err error) {
	err = s.read(ctx, fmt.Sprintf("read spectrum of reading %d", reading), func(snap snapshot) error {
		found := false
		err := snap.each(ctx, func(row []driver.Value) (err error) {
			found = true
			if row[4] == nil {
				return nil
			}
			sp, err = spectrumOf(row)
			return err
		}, `SELECT p.first_hz, p.step_hz, p.enbw, p.looks, p.density
			FROM readings r LEFT JOIN spectra p ON p.reading = r.id WHERE r.id = ?`, reading)
		if err == nil && !found {
			return ErrUnknown
		}
		return err
	})
	return sp, err
}

// Spectra hands the spectra of the readings that filter means to yield, in the
// order of Sweeps, with the reading's number, setup, segment and start. A
// spectrum belongs to yield and may be kept.
func (s *Store) Spectra(ctx context.Context, filter Filter,
	yield func(reading int64, setup survey.Setup, segment survey.Segment, start time.Time, sp *survey.Spectrum) error) error {
	from, args := filter.readings("CROSS JOIN setups t ON t.id = s.setup CROSS JOIN spectra p ON p.reading = r.id")
	return s.read(ctx, "read spectra", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			sp, err := spectrumOf(row[8:])
			if err != nil {
				return fmt.Errorf("reading %d: %w", integer(row[0]), err)
			}
			return yield(integer(row[0]), setupOf(row[1:4]), segmentOf(row[4:7]), instant(row[7]), sp)
		}, `SELECT r.id, t.antenna, t.placement, t.bearing_deg, g.name, g.low_hz, g.high_hz, r.start_ms,
			p.first_hz, p.step_hz, p.enbw, p.looks, p.density`+from+byReading, args...)
	})
}

// spectrumOf reads first_hz, step_hz, enbw, looks and density.
func spectrumOf(row []driver.Value) (*survey.Spectrum, error) {
	blob, _ := row[4].([]byte)
	density, err := decodeDensity(blob)
	if err != nil {
		return nil, fmt.Errorf("%w: %w; run `nightfloor database check`", ErrDamaged, err)
	}
	return &survey.Spectrum{First: survey.Hz(float(row[0])), Step: survey.Hz(float(row[1])),
		ENBW: float(row[2]), Looks: float(row[3]), Density: density}, nil
}
