package store

import (
	"context"
	"fmt"
	"math"

	"nightfloor/survey"
)

// AddCarriers adds carriers to readings that are stored already, by the
// readings' numbers: those measured by force when a round ends. Where a reading
// has a carrier at that frequency, a detected one stays or replaces one measured
// by force; otherwise the one already there stays. All or nothing is stored.
// Errors: ErrUnknown for a reading that is not there, ErrInvalid.
func (s *Store) AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error {
	return addToReadings(ctx, s, "carriers", carriers, checkCarriers, insertCarriers)
}

// insertCarriers stores the carriers of one reading.
func insertCarriers(c change, reading int64, carriers []survey.Carrier) error {
	_, err := insertAll(c, "carrier", `
		INSERT INTO carriers (reading, frequency_hz, power, sigma, detected) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (reading, frequency_hz) DO UPDATE
		SET power = excluded.power, sigma = excluded.sigma, detected = excluded.detected
		WHERE excluded.detected > carriers.detected`, carriers, func(_ int, c survey.Carrier) ([]any, error) {
		return []any{reading, float64(c.Frequency), c.Power, c.Sigma, bit(c.Detected)}, nil
	})
	return err
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
