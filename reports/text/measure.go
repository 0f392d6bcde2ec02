package text

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// WriteMeasure prints the measurements for a person to read, on a screen so many characters wide.
func WriteMeasure(w io.Writer, m result.Measure, width int) error {
	b := Sheet{Width: width}
	for _, r := range m.Recordings {
		recording(&b, r)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func recording(b *Sheet, r result.MeasuredRecording) {
	b.Wrap(fmt.Sprintf("%s: %.3f s at %s, %s, bins of %.1f Hz", wording.Printable(r.File), r.Duration, survey.Hz(r.Centre), survey.RateText(survey.Hz(r.SampleRate)), r.BinWidth), "", "  ")
	if len(r.Quality.Flags) > 0 {
		b.Wrap(fmt.Sprintf("flags: %s (%.3g %% of the components clipped)", strings.Join(r.Quality.Flags, ", "), 100*r.Quality.ClippedShare), "  ", "    ")
	}
	if slices.Contains(r.Quality.Flags, survey.FlagLineAtCentre) {
		b.Wrap(fmt.Sprintf("a strong line stands at the centre, %s: a station's carrier there cannot be told from the receiver's own DC offset, and is not listed; tune beside it, by 10 kHz and more", survey.Hz(r.Centre)), "  ", "    ")
	}
	if slices.Contains(r.Quality.Flags, survey.FlagFilterEdge) {
		b.Wrap("the receiver's own filter is narrower than the usable passband: floors, carriers and interference are of what it lets through; tune so that the segment lies within", "  ", "    ")
	}
	for _, s := range r.Segments {
		line := wording.Segment(s.Name, survey.Hz(s.Low), survey.Hz(s.High))
		if s.HeardHigh != nil {
			line += ", heard at " + wording.Edges(survey.Hz(*s.HeardLow), survey.Hz(*s.HeardHigh))
		}
		line += ": "
		if s.Floor == nil {
			line += "no floor: " + noFloor(s, r.Quality.Flags)
		} else {
			line += fmt.Sprintf("floor %s ± %.2f dBFS/Hz (95 %%), between bursts %s", wording.Figure(s.Floor, 2), 1.96**s.FloorSigma, wording.Figure(s.Quiet, 2))
		}
		if s.Vd != nil {
			line += fmt.Sprintf(", Vd %.2f dB in %.1f kHz", *s.Vd, *s.VdBandwidth/1e3)
		}
		line += fmt.Sprintf(", %.0f %% occupied by signals, %s", 100*s.Occupancy, survey.Count(len(s.Carriers), "carrier"))
		b.Wrap(line, "  ", "    ")
		for _, c := range s.Carriers {
			fmt.Fprintf(b, "    %14.4f kHz  %7s dBFS  SNR %6s dB in 9 kHz\n", c.Frequency/1e3, wording.Number(c.Level, 2), wording.Figure(c.SNR, 2))
		}
	}
	writeFindings(b, r.Findings, r.Quality.Flags)
}

// noFloor says why a segment of a recording with such flags shows no floor.
func noFloor(s result.MeasuredSegment, flags []string) string {
	edge := s.HeardHigh == nil && slices.Contains(flags, survey.FlagFilterEdge)
	switch {
	case slices.Contains(flags, survey.FlagLowDrive):
		return "the converter was hardly driven"
	case edge && slices.Contains(flags, survey.FlagCrowded):
		return "too little is free of signals and their splatter, or the receiver's own filter leaves it out"
	case edge:
		return "the receiver's own filter leaves it out"
	}
	return "too little is free of signals and their splatter"
}

// findingLine says a finding in one line.
func findingLine(f result.MeasuredFinding) string {
	switch f.Kind {
	case survey.FindingComb:
		return fmt.Sprintf("comb of %s: %s%s%s", kHz(f.Spacing), survey.Count(*f.Lines, "line"), over(f.Strength), findingModulation(f))
	case survey.FindingMains:
		text := fmt.Sprintf("noise modulated at %.0f Hz, depth %.2f", *f.Envelope, *f.Depth)
		if f.Shape != nil {
			text += ", " + *f.Shape + " a mains period"
		}
		return text
	case survey.FindingImpulses:
		how := ""
		if *f.Regular {
			how = ", regular"
		} else if f.RateHigh != nil {
			how = fmt.Sprintf(" (95 %%: %s to %s)", wording.Number(*f.RateLow, 2), wording.Number(*f.RateHigh, 1))
		}
		return fmt.Sprintf("%.1f impulses a second%s%s", *f.Rate, how, over(f.Strength))
	case survey.FindingNotch:
		if f.Strength != nil {
			return fmt.Sprintf("notch at %s: %.1f dB under the floor on its sides", findingStretch(f), -*f.Strength)
		}
	}
	return fmt.Sprintf("%s at %s%s", f.Kind, findingStretch(f), over(f.Strength))
}

// findingStretch writes the finding's edges.
func findingStretch(f result.MeasuredFinding) string {
	return wording.Edges(survey.Hz(*f.Low), survey.Hz(*f.High))
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
func writeFindings(b *Sheet, findings []result.MeasuredFinding, flags []string) {
	for _, f := range findings {
		b.Wrap(findingLine(f), "  ", "    ")
	}
	switch {
	case slices.Contains(flags, survey.FlagOverload) && len(findings) > 0:
		b.Wrap("other interference was not judged: the receiver was overloaded for a part of the time; record with less gain", "  ", "    ")
	case len(findings) > 0:
	case slices.Contains(flags, survey.FlagOverload):
		b.Wrap("interference was not judged: the receiver was overloaded; record with less gain", "  ", "    ")
	case slices.Contains(flags, survey.FlagLowDrive):
		b.Wrap("interference was not judged: the converter was hardly driven; record with more gain", "  ", "    ")
	default:
		b.WriteString("  no interference found\n")
	}
}
