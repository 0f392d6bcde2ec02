package store

import (
	"context"
	"fmt"
	"math"

	"nightfloor/survey"
)

// AddFindings adds findings to readings that are stored already, by the readings'
// numbers, behind those that they have: combs measured by force when a round ends.
// All or nothing is stored. Errors: ErrUnknown for a reading that is not there,
// ErrInvalid.
func (s *Store) AddFindings(ctx context.Context, findings map[int64][]survey.Finding) error {
	return addToReadings(ctx, s, "findings", findings, checkFindings, insertFindings)
}

// insertFindings stores findings of one reading, numbered behind those that it has.
func insertFindings(c change, reading int64, findings []survey.Finding) error {
	if len(findings) == 0 {
		return nil
	}
	last, err := c.number(`SELECT ifnull(max(number), 0) FROM findings WHERE reading = ?`, reading)
	if err != nil {
		return err
	}
	_, err = insertAll(c, "finding", `
		INSERT INTO findings (reading, number, kind, low_hz, high_hz, spacing_hz, width_hz, lines, envelope_hz, mains_hz,
			depth, shape, rate_hz, regular, strength_db, confidence, power, sigma)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, findings, func(i int, f survey.Finding) ([]any, error) {
		comb, mains, impulses := f.Kind == survey.FindingComb, f.Kind == survey.FindingMains, f.Kind == survey.FindingImpulses
		return []any{reading, last + 1 + int64(i), f.Kind, float64(f.Low), float64(f.High),
			whenApplies(comb, float64(f.Spacing)), whenApplies(comb, float64(f.Width)), whenApplies(comb, f.Lines),
			whenApplies(mains || comb && f.Envelope != 0, float64(f.Envelope)), whenApplies(f.Mains != 0, float64(f.Mains)),
			whenApplies(mains || comb && f.Sought, f.Depth), whenApplies(mains, f.Shape),
			whenApplies(impulses, float64(f.Rate)), whenApplies(impulses, bit(f.Regular)),
			whenApplies(!mains && !math.IsNaN(float64(f.Strength)), float64(f.Strength)),
			f.Confidence, whenApplies(comb || mains, f.Power), whenApplies(comb || mains, f.Sigma)}, nil
	})
	return err
}

// whenApplies gives a value as a column takes it where it applies, else NULL.
func whenApplies(applies bool, value any) any {
	if !applies {
		return nil
	}
	return value
}

// checkFindings refuses findings whose figures are no numbers.
func checkFindings(findings []survey.Finding) error {
	for _, f := range findings {
		for _, x := range []float64{float64(f.Low), float64(f.High), float64(f.Spacing), float64(f.Width), float64(f.Envelope),
			float64(f.Mains), f.Depth, float64(f.Rate), f.Confidence, f.Power, f.Sigma} {
			if math.IsNaN(x) {
				return fmt.Errorf("%w: %+v; this is a mistake in nightfloor, please report it", ErrInvalid, f)
			}
		}
	}
	return nil
}

// findingsOf gathers the findings of a reading, nil where it has none.
func (w *sweepReader) findingsOf(reading int64) (found []survey.Finding, err error) {
	for !w.findings.done {
		row := w.findings.row
		if integer(row[0]) != reading {
			break
		}
		f := survey.Finding{Kind: text(row[1]), Low: survey.Hz(float(row[2])), High: survey.Hz(float(row[3])),
			Spacing: survey.Hz(orZero(row[4])), Width: survey.Hz(orZero(row[5])), Lines: int(integer(row[6])),
			Envelope: survey.Hz(orZero(row[7])), Mains: survey.Hz(orZero(row[8])), Depth: orZero(row[9]), Shape: text(row[10]),
			Rate: survey.Hz(orZero(row[11])), Regular: integer(row[12]) == 1,
			Strength: survey.DB(float(row[13])), Confidence: float(row[14]), Power: orZero(row[15]), Sigma: orZero(row[16])}
		f.Sought = f.Kind == survey.FindingComb && row[9] != nil
		if f.Kind == survey.FindingMains {
			f.Strength = 0 // does not apply, rather than not known
		}
		found = append(found, f)
		if err := w.findings.step(); err != nil {
			return nil, fmt.Errorf("reading %d: %w", reading, err)
		}
	}
	return found, nil
}
