package level

import (
	"fmt"
	"math"
	"strings"
	"time"

	"nightfloor/survey"
)

// Terms of a Budget, standard uncertainties in dB (PHYSICS.md 7.11 tells where each comes from; TestBudget
// fails when one moves).
const (
	generatorTold survey.DB = 1   // of a generator's level, or of a noise source's ENR, unless it is told
	figureTold    survey.DB = 2   // of a noise figure unless it is told
	mismatch      survey.DB = 0.5 // receivers are not 50 Ω
	warmth        survey.DB = 0.3 // drift with temperature, at once
	// ageing is in how long the drift grows by the root of 2. Chosen.
	ageing = 30 * 24 * time.Hour
	// slope is how much full scale may change over frequency, in dB an octave: 3 dB, half of what one pole
	// of a filter takes, either way and alike likely in between (over √3). Chosen.
	slope = 3 / sqrt3
	// figureRise is by how much the noise figure may be higher at a lower gain at the most, in dB a dB: benches
	// found 7 dB at full gain and 23 dB at 30 dB less. Anything from 0 to that is alike likely.
	figureRise survey.DB = 0.5
)

// sqrt3 makes a standard uncertainty of the half width of a rectangular distribution, or of the width of one that
// begins at 0.
const sqrt3 = 1.7320508

// Unless gives how well what a level rests on is known, where the operator does not tell it.
func Unless(basis string) survey.DB {
	if basis == survey.BasisFigure {
		return figureTold
	}
	return generatorTold
}

// Told gives how well what a reference rests on is known.
func Told(r survey.LevelReference) survey.DB {
	if r.Uncertainty != nil {
		return *r.Uncertainty
	}
	return Unless(r.Basis)
}

// FigureAt gives how well a noise figure that was told, for the highest gain, is known at a gain that is so
// much lower.
func FigureAt(told, lower survey.DB) survey.DB { return combined(told, figureRise*lower/sqrt3) }

// A Budget is what makes a level in dBm uncertain: standard uncertainties.
type Budget struct {
	Basis     string    `json:"basis"`       // what the level rests on
	Source    survey.DB `json:"source_db"`   // of that, as it was told
	Mismatch  survey.DB `json:"mismatch_db"` // between it and the receiver
	Drift     survey.DB `json:"drift_db"`    // with temperature, and with time since the calibration
	Frequency survey.DB `json:"frequency_db"`
	Noise     survey.DB `json:"noise_db"` // of the measurements
}

// Budget gives the uncertainty of the level at a time. Where a later run shows by how much it moved, that is
// the drift, unless drift without it would be more.
func (l Level) Budget(at time.Time) Budget {
	var age time.Duration
	for _, run := range l.Runs {
		age = max(age, at.Sub(run.At).Abs())
	}
	drift := max(warmth*survey.DB(math.Sqrt(1+age.Hours()/ageing.Hours())), l.Moved)
	return Budget{Basis: l.Basis, Source: l.source, Mismatch: mismatch, Drift: drift, Frequency: l.frequency, Noise: l.Sigma}
}

// AtOnce gives the budget of a reference at its own frequency and time.
func AtOnce(r survey.LevelReference) Budget {
	return Budget{Basis: r.Basis, Source: Told(r), Mismatch: mismatch, Noise: r.Sigma}
}

// Worst gives the budget of the reference that is known worst, nil of none.
func Worst(all []survey.LevelReference) (worst *Budget) {
	for _, r := range all {
		if b := AtOnce(r); worst == nil || b.Total() > worst.Total() {
			worst = &b
		}
	}
	return worst
}

// Total gives the standard uncertainty of all terms together.
func (b Budget) Total() survey.DB {
	return combined(b.Source, b.Mismatch, b.Drift, b.Frequency, b.Noise)
}

// String names the terms that count.
func (b Budget) String() string {
	var terms []string
	for _, t := range []struct {
		name string
		db   survey.DB
	}{{b.Basis, b.Source}, {"mismatch", b.Mismatch}, {"drift", b.Drift}, {"distance in frequency", b.Frequency}, {"noise", b.Noise}} {
		if t.db >= 0.05 {
			terms = append(terms, fmt.Sprintf("%s %.1f", t.name, float64(t.db)))
		}
	}
	return strings.Join(terms, ", ") + " dB"
}

// combined gives the root of the sum of squares.
func combined(terms ...survey.DB) survey.DB {
	sum := 0.0
	for _, t := range terms {
		sum += float64(t * t)
	}
	return survey.DB(math.Sqrt(sum))
}
