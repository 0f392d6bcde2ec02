package text

import (
	"fmt"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// findingLine says a finding in one line.
func findingLine(f result.MeasuredFinding) string {
	switch f.Kind {
	case survey.FindingComb:
		return fmt.Sprintf("comb of %s: %s%s%s", kHz(f.Spacing), wording.Count(*f.Lines, "line"), over(f.Strength), findingModulation(f))
	case survey.FindingMains:
		text := fmt.Sprintf("noise modulated at %.0f Hz, depth %.2f", *f.Envelope, *f.Depth)
		if f.Shape != nil {
			text += ", " + *f.Shape + " a mains period"
		}
		return text
	case survey.FindingImpulses:
		regular := ""
		if *f.Regular {
			regular = ", regular"
		}
		return fmt.Sprintf("%.1f impulses a second%s%s", *f.Rate, regular, over(f.Strength))
	case survey.FindingNotch:
		if f.Strength != nil {
			return fmt.Sprintf("notch at %s: %.1f dB under the floor on its sides", findingStretch(f), -*f.Strength)
		}
	}
	return fmt.Sprintf("%s at %s%s", f.Kind, findingStretch(f), over(f.Strength))
}

// findingStretch writes the finding's edges.
func findingStretch(f result.MeasuredFinding) string {
	return fmt.Sprintf("%s–%s", survey.Hz(*f.Low), survey.Hz(*f.High))
}

// kHz writes a spacing to a hertz.
func kHz(hz *float64) string { return fmt.Sprintf("%.3f kHz", *hz/1e3) }

// over writes a strength over the floor, nothing where it is not known.
func over(strength *float64) string {
	if strength == nil {
		return ""
	}
	return fmt.Sprintf(", %s dB over the floor", wording.Number(*strength, 1))
}

// findingModulation says at what frequency a comb's lines are modulated, or else by what mains the
// noise in the same recording is.
func findingModulation(f result.MeasuredFinding) string {
	switch {
	case f.Mains == nil:
		return ""
	case f.Envelope != nil:
		return fmt.Sprintf("; its lines are modulated at %.0f Hz, depth %.2f", *f.Envelope, *f.Depth)
	}
	return fmt.Sprintf("; the noise is modulated by mains of %.0f Hz", *f.Mains)
}

// writeFindings says what interference was found, each in a line.
func writeFindings(b *strings.Builder, findings []result.MeasuredFinding, flags []string) {
	for _, f := range findings {
		fmt.Fprintf(b, "  %s\n", findingLine(f))
	}
	switch {
	case len(findings) > 0:
	case slices.Contains(flags, survey.FlagOverload):
		b.WriteString("  interference was not judged: the receiver was overloaded; record with less gain\n")
	case slices.Contains(flags, survey.FlagLowDrive):
		b.WriteString("  interference was not judged: the converter was hardly driven; record with more gain\n")
	default:
		b.WriteString("  no interference found\n")
	}
}
