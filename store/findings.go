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
	return addToReadings(ctx, s, "findings", findings, insertFindings)
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
	_, err = addAll(c, "findings", "", findings, func(i int, found *survey.Finding) columns {
		f := *found
		mains := f.Kind == survey.FindingMains
		f.Sought = mains || f.Kind == survey.FindingComb && f.Sought // it has a depth
		if mains {
			f.Strength = survey.DB(math.NaN()) // does not apply, rather than not known
		}
		return append(columns{{"reading", &reading}, {"number", new(last + 1 + int64(i))}}, findingColumns(&f)...)
	})
	return err
}

func findingColumns(f *survey.Finding) columns {
	comb, mains, impulses := new(f.Kind == survey.FindingComb), new(f.Kind == survey.FindingMains), new(f.Kind == survey.FindingImpulses)
	lines := new(*comb || *mains)
	return columns{{"kind", &f.Kind}, {"low_hz", &f.Low}, {"high_hz", &f.High},
		{"spacing_hz", optional{comb, &f.Spacing}}, {"width_hz", optional{comb, &f.Width}}, {"lines", optional{comb, &f.Lines}},
		{"envelope_hz", optional{new(*mains || *comb && f.Envelope != 0), &f.Envelope}}, {"mains_hz", optional{new(f.Mains != 0), &f.Mains}},
		{"depth", optional{&f.Sought, &f.Depth}}, {"shape", optional{mains, &f.Shape}}, {"rate_hz", optional{impulses, &f.Rate}},
		{"regular", optional{impulses, &f.Regular}}, {"strength_db", orNaN{(*float64)(&f.Strength)}}, {"confidence", &f.Confidence},
		{"power", optional{lines, &f.Power}}, {"sigma", optional{lines, &f.Sigma}}}
}

// findingsOf gathers the findings of a reading of a survey, nil where it has none.
func (w *sweepReader) findingsOf(reading, id int64) (found []survey.Finding, err error) {
	for !w.findings.done && integer(w.findings.row[0]) == reading {
		can := w.scan(w.findings.row[1:], w.findingFields)
		f := w.finding
		f.Sought = f.Sought && f.Kind == survey.FindingComb
		if f.Kind == survey.FindingMains {
			f.Strength = 0 // does not apply, rather than not known
		}
		if can {
			found = append(found, f)
		} else {
			w.leftOut["findings"][id]++
		}
		if err := w.findings.step(); err != nil {
			return nil, fmt.Errorf("reading %d: %w", reading, err)
		}
	}
	return found, nil
}
