package text

import (
	"fmt"
	"io"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/simulated"
	"nightfloor/reports/wording"
)

// WriteBuiltRank prints what was built in beside what was found.
func WriteBuiltRank(w io.Writer, verdicts []simulated.RankVerdict) error {
	claimed, right, intervals, held := 0, 0, 0, 0
	text := "\nWhat was built into the simulated house, dB against the reference (found, 95 % interval):\n"
	segment := ""
	for _, v := range verdicts {
		if v.Segment != segment {
			segment = v.Segment
			text += "  " + segment + "\n"
		}
		if v.Claims {
			claimed++
			if v.Right {
				right++
			}
		}
		if v.Found.SNRAdvantage == nil || v.Found.Low == nil || *v.Found.Low == *v.Found.High {
			continue
		}
		intervals++
		if v.Holds {
			held++
		}
		text += fmt.Sprintf("    %-18s %6s  (%s, %s)\n", v.Found.Setup, wording.Signed(&v.Built, 1), wording.Signed(v.Found.SNRAdvantage, 1),
			wording.Interval(v.Found.Low, v.Found.High, 1))
	}
	text += fmt.Sprintf("  %d of %d differences that an interval claims are there, in that direction; %d of %d intervals hold what was built in.\n", right, claimed, held, intervals)
	_, err := io.WriteString(w, text)
	return err
}

// WriteBuiltSupplies prints what was built in beside what was found.
func WriteBuiltSupplies(w io.Writer, verdicts []simulated.SupplyVerdict, others []result.NoiseSource) error {
	text := "\nSwitching supplies built in (found), UTC:\n"
	for _, v := range verdicts {
		text += fmt.Sprintf("    %-12s %8.3f kHz, on %s", v.Built.Name, float64(v.Built.Spacing)/1e3, clockHours(v.Built.Hours))
		if v.Found == nil {
			text += "  (not found)\n"
			continue
		}
		text += fmt.Sprintf("  (%.3f kHz, %s)\n", float64(*v.Found.Spacing)/1e3, clockHours(v.Found.Hours))
	}
	text += fmt.Sprintf("  Combs found that were not built in: %d. A pause shorter than a round may go unseen.\n", len(others))
	_, err := io.WriteString(w, text)
	return err
}

// clockHours writes 19:02–23:41, 23:55–03:20, in UTC.
func clockHours(hours []result.NoiseHours) string {
	spans := make([]string, len(hours))
	for i, h := range hours {
		spans[i] = h.From.UTC().Format("15:04") + "–" + h.To.UTC().Format("15:04")
	}
	return strings.Join(spans, ", ")
}
