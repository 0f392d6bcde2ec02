package simulated

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// A SupplyVerdict holds a supply that was built into the scene against the source that was
// found for it, nil for none.
type SupplyVerdict struct {
	Built Supply
	Found *result.NoiseSource
}

// sameSupply is how far apart two spacings of one supply are at most, as a share.
const sameSupply = 1e-3

// CompareSupplies sets the supplies of the scene beside the combs that were found. others
// are the combs that belong to none.
func CompareSupplies(truth Truth, r *result.Report) (verdicts []SupplyVerdict, others []result.NoiseSource) {
	first, last := surveySpan(r)
	taken := map[int]bool{}
	for _, built := range truth.Supplies(first, last) {
		v := SupplyVerdict{Built: built}
		for i := range r.Noise.Sources {
			s := &r.Noise.Sources[i]
			if s.Spacing != nil && math.Abs(float64(*s.Spacing/built.Spacing-1)) < sameSupply {
				v.Found, taken[i] = s, true
			}
		}
		verdicts = append(verdicts, v)
	}
	for i, s := range r.Noise.Sources {
		if s.Kind == survey.FindingComb && !taken[i] {
			others = append(others, s)
		}
	}
	return verdicts, others
}

// WriteSupplies prints what was built in beside what was found.
func WriteSupplies(w io.Writer, verdicts []SupplyVerdict, others []result.NoiseSource) error {
	text := "\nSwitching supplies built in (found), UTC:\n"
	for _, v := range verdicts {
		var hours []string
		for _, h := range v.Built.Hours {
			hours = append(hours, span(h.From, h.To))
		}
		text += fmt.Sprintf("    %-12s %8.3f kHz, on %s", v.Built.Name, float64(v.Built.Spacing)/1e3, strings.Join(hours, ", "))
		if v.Found == nil {
			text += "  (not found)\n"
			continue
		}
		hours = nil
		for _, h := range v.Found.Hours {
			hours = append(hours, span(h.From, h.To))
		}
		text += fmt.Sprintf("  (%.3f kHz, %s)\n", float64(*v.Found.Spacing)/1e3, strings.Join(hours, ", "))
	}
	text += fmt.Sprintf("  Combs found that were not built in: %d. A pause shorter than a round may go unseen.\n", len(others))
	_, err := io.WriteString(w, text)
	return err
}

func span(from, to time.Time) string {
	return from.UTC().Format("15:04") + "–" + to.UTC().Format("15:04")
}
