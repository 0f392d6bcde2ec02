package store

import (
	"context"

	"nightfloor/survey"
)

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
		WHERE true ON CONFLICT (reading, frequency_hz) DO UPDATE
		SET power = excluded.power, sigma = excluded.sigma, detected = excluded.detected
		WHERE excluded.detected > carriers.detected`, carriers, func(_ int, c *survey.Carrier) columns {
		return columns{{"reading", &reading}, {"frequency_hz", &c.Frequency}, {"power", &c.Power}, {"sigma", &c.Sigma}, {"detected", &c.Detected}}
	})
	return err
}
