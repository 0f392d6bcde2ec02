package store

import (
	"context"
	"database/sql/driver"
	"fmt"

	"nightfloor/store/density"
	"nightfloor/survey"
)

// A spectrumRow is a spectrum as its row has it, with the densities packed.
type spectrumRow struct {
	survey.Spectrum
	packed []byte
}

func (p *spectrumRow) columns() columns {
	return columns{{"first_hz", &p.First}, {"step_hz", &p.Step}, {"enbw", &p.ENBW}, {"looks", &p.Looks}, {"density", &p.packed}}
}

// unpacked gives the spectrum.
func (p *spectrumRow) unpacked() (*survey.Spectrum, error) {
	values, err := density.Decode(p.packed)
	if err != nil {
		return nil, fmt.Errorf("%w: %w; run `nightfloor database check`", ErrDamaged, err)
	}
	p.Density = values
	return new(p.Spectrum), nil
}

// insertSpectrum stores the spectrum of a reading, if one is kept.
func insertSpectrum(c change, reading int64, sp *survey.Spectrum) (err error) {
	if sp == nil {
		return nil
	}
	row := spectrumRow{Spectrum: *sp}
	if row.packed, err = density.Encode(sp.Density); err != nil {
		return err
	}
	_, err = c.add("spectra", append(row.columns(), column{"reading", &reading}))
	return err
}

// Spectrum gives the spectrum of a reading, nil where none was kept. Densities
// are multiples of 0.1 dB. ErrUnknown: there is no such reading.
func (s *Store) Spectrum(ctx context.Context, reading int64) (*survey.Spectrum, error) {
	what := fmt.Sprintf("read spectrum of reading %d", reading)
	var found []spectrumRow
	var there []int64
	err := s.read(ctx, what, func(snap snapshot) (err error) {
		found, err = rows(ctx, snap, (*spectrumRow).columns, `FROM spectra WHERE reading = ?`, reading)
		return first(err, snap.each(ctx, func(row []driver.Value) error {
			there = append(there, integer(row[0]))
			return nil
		}, `SELECT id FROM readings WHERE id = ?`, reading))
	})
	switch {
	case err != nil:
		return nil, err
	case len(there) == 0:
		return nil, fmt.Errorf("%s: %w", what, ErrUnknown)
	case len(found) == 0:
		return nil, nil
	}
	sp, err := found[0].unpacked()
	return sp, explain(what, err)
}

// Spectra hands the spectra of the readings that filter means to yield, in the
// order of Sweeps, with the reading's number. A spectrum belongs to yield and may be kept. One
// that cannot be read is left out (LeftOut).
func (s *Store) Spectra(ctx context.Context, filter Filter, yield func(reading int64, sp *survey.Spectrum) error) error {
	return s.read(ctx, "read spectra", func(snap snapshot) error {
		var reading, id int64
		var packed spectrumRow
		row := append(columns{{"r.id", &reading}, {"s.survey", &id}}, packed.columns()...)
		snap.leftOut.begin("spectra")
		return snap.each(ctx, func(values []driver.Value) error {
			if snap.scan(values, row) {
				if sp, err := packed.unpacked(); err == nil {
					return yield(reading, sp)
				}
			}
			snap.leftOut["spectra"][id]++
			return nil
		}, "SELECT "+row.names("")+fromReadings+" CROSS JOIN spectra p ON p.reading = r.id"+meant+byReading, filter.args()...)
	})
}
