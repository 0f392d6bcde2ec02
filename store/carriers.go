package store

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"

	"nightfloor/survey"
)

// AddCarriers adds carriers to readings that are stored already, by the
// readings' numbers: those measured by force when a round ends. Where a reading
// has a carrier at that frequency, a detected one stays or replaces one measured
// by force; otherwise the one already there stays. All or nothing is stored.
// Errors: ErrUnknown for a reading that is not there, ErrInvalid.
func (s *Store) AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error {
	var readings []int64 // in order: the table is sorted by them
	for id, some := range carriers {
		if err := checkCarriers(some); err != nil {
			return fmt.Errorf("store carriers of reading %d: %w", id, err)
		}
		readings = append(readings, id)
	}
	slices.Sort(readings)
	return s.write(ctx, "store carriers", func(tx *sql.Tx) error {
		for _, id := range readings {
			var there int
			err := tx.QueryRowContext(ctx, `SELECT count(*) FROM readings WHERE id = ?`, id).Scan(&there)
			if err != nil {
				return err
			}
			if there == 0 {
				return fmt.Errorf("reading %d: %w; store its sweep first", id, ErrUnknown)
			}
			if err := insertCarriers(ctx, tx, id, carriers[id]); err != nil {
				return fmt.Errorf("reading %d: %w", id, err)
			}
		}
		return nil
	})
}

// insertCarriers stores the carriers of one reading.
func insertCarriers(ctx context.Context, tx *sql.Tx, reading int64, carriers []survey.Carrier) (err error) {
	if len(carriers) == 0 {
		return nil
	}
	insert, err := tx.PrepareContext(ctx, `
		INSERT INTO carriers (reading, frequency_hz, power, sigma, detected) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (reading, frequency_hz) DO UPDATE
		SET power = excluded.power, sigma = excluded.sigma, detected = excluded.detected
		WHERE excluded.detected > carriers.detected`)
	if err != nil {
		return err
	}
	defer func() { err = first(err, insert.Close()) }()
	for _, c := range carriers {
		_, err := insert.ExecContext(ctx, reading, float64(c.Frequency), c.Power, c.Sigma, bit(c.Detected))
		if err != nil {
			return fmt.Errorf("carrier at %v: %w", c.Frequency, err)
		}
	}
	return nil
}

// checkCarriers refuses carriers whose figures are no numbers.
func checkCarriers(carriers []survey.Carrier) error {
	for _, c := range carriers {
		if math.IsNaN(float64(c.Frequency)) || math.IsNaN(c.Power) || math.IsNaN(c.Sigma) {
			return fmt.Errorf("%w: carrier at %v, power %g ± %g; this is a mistake in nightfloor, please report it",
				ErrInvalid, c.Frequency, c.Power, c.Sigma)
		}
	}
	return nil
}
