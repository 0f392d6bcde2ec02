package reports

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/survey"
)

// MeasuredFinding is interference seen in one recording.
type MeasuredFinding struct {
	Kind       string   `json:"kind"`
	Spacing    *float64 `json:"spacing_hz"`
	Lines      *int     `json:"lines"`
	Envelope   *float64 `json:"envelope_hz"`
	Mains      *float64 `json:"mains_hz"`
	Depth      *float64 `json:"depth"`
	Shape      *string  `json:"shape"`
	Rate       *float64 `json:"rate_hz"`
	Regular    *bool    `json:"regular"`
	Strength   *float64 `json:"strength_db"`
	Low        *float64 `json:"low_hz"`
	High       *float64 `json:"high_hz"`
	Confidence float64  `json:"confidence"`
}

// newMeasuredFindings lists the findings that a reading is evidence for.
func newMeasuredFindings(findings []survey.Finding) []MeasuredFinding {
	out := []MeasuredFinding{}
	for _, f := range findings {
		if f.Detected() {
			out = append(out, newMeasuredFinding(f))
		}
	}
	return out
}

// newMeasuredFinding shows what applies to a finding's kind. Impulses raise the whole
// passband: they have no stretch of their own.
func newMeasuredFinding(f survey.Finding) MeasuredFinding {
	out := MeasuredFinding{Kind: f.Kind, Confidence: sureness(f.Confidence)}
	if f.Kind != survey.FindingImpulses {
		out.Low, out.High = digits(float64(f.Low), 1), digits(float64(f.High), 1)
	}
	if f.Kind != survey.FindingMains {
		out.Strength = digits(float64(f.Strength), 2)
	}
	if f.Mains != 0 {
		out.Mains = digits(float64(f.Mains), 1)
	}
	switch f.Kind {
	case survey.FindingComb:
		out.Spacing, out.Lines = digits(float64(f.Spacing), 2), &f.Lines
		if f.Envelope != 0 {
			out.Envelope, out.Depth = digits(float64(f.Envelope), 2), digits(f.Depth, 3)
		}
	case survey.FindingMains:
		out.Envelope, out.Depth, out.Shape = digits(float64(f.Envelope), 2), digits(f.Depth, 3), nonEmpty(f.Shape)
	case survey.FindingImpulses:
		out.Rate, out.Regular = digits(float64(f.Rate), 2), &f.Regular
	}
	return out
}

// digits gives a figure to some decimals, nil for one that is not finite.
func digits(x float64, places int) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	x = rounded(x, places)
	return &x
}

// sureness cuts a confidence to seven decimals, never up to 1: nothing is certain, and
// the tail of the evidence is not known so far out.
func sureness(confidence float64) float64 {
	const steps = 1e7
	return min(math.Floor(confidence*steps+1e-3), steps-1) / steps // the thousandth: 0.99987 is a little less in binary
}

// findingLine says a finding in one line.
func findingLine(f MeasuredFinding) string {
	switch f.Kind {
	case survey.FindingComb:
		return fmt.Sprintf("comb of %s: %s%s%s", kHz(f.Spacing), counted(*f.Lines, "line"), over(f.Strength), findingBeating(f))
	case survey.FindingMains:
		text := fmt.Sprintf("noise beats at %.0f Hz, depth %.2f", *f.Envelope, *f.Depth)
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
func findingStretch(f MeasuredFinding) string {
	return fmt.Sprintf("%s–%s", survey.Hz(*f.Low), survey.Hz(*f.High))
}

// kHz writes a spacing to a hertz.
func kHz(hz *float64) string { return fmt.Sprintf("%.3f kHz", *hz/1e3) }

// over writes a strength over the floor, nothing where it is not known.
func over(strength *float64) string {
	if strength == nil {
		return ""
	}
	return fmt.Sprintf(", %s dB over the floor", Number(*strength, 1))
}

// findingBeating says with what mains a comb's lines beat, or else the noise in the same recording.
func findingBeating(f MeasuredFinding) string {
	switch {
	case f.Mains == nil:
		return ""
	case f.Envelope != nil:
		return fmt.Sprintf("; its lines beat at %.0f Hz, depth %.2f", *f.Envelope, *f.Depth)
	}
	return fmt.Sprintf("; the noise beats with mains of %.0f Hz", *f.Mains)
}

// writeFindings says what interference was found, each in a line.
func writeFindings(b *strings.Builder, findings []MeasuredFinding, flags []string) {
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
