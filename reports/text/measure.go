package text

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// WriteMeasure prints the measurements for a person to read.
func WriteMeasure(w io.Writer, m result.Measure) error {
	for _, r := range m.Recordings {
		if err := writeMeasured(w, r); err != nil {
			return err
		}
	}
	return nil
}

func writeMeasured(w io.Writer, r result.MeasuredRecording) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %.3f s at %s, %s samples a second, bins of %.1f Hz\n", wording.Printable(r.File), r.Duration, survey.Hz(r.Centre), millions(r.SampleRate), r.BinWidth)
	if len(r.Quality.Flags) > 0 {
		fmt.Fprintf(&b, "  flags: %s (%.3g %% of the components clipped)\n", strings.Join(r.Quality.Flags, ", "), 100*r.Quality.ClippedShare)
	}
	for _, s := range r.Segments {
		fmt.Fprintf(&b, "  %s, %s–%s: ", wording.Printable(s.Name), survey.Hz(s.Low), survey.Hz(s.High))
		if s.Floor == nil {
			b.WriteString("no floor: too little is free of signals")
		} else {
			fmt.Fprintf(&b, "floor %s ± %.2f dBFS/Hz (95 %%), between bursts %s", wording.Figure(s.Floor, 2), 1.96**s.FloorSigma, wording.Figure(s.Quiet, 2))
		}
		if s.Vd != nil {
			fmt.Fprintf(&b, ", rms over mean of the envelope %.2f dB in %.1f kHz", *s.Vd, *s.VdBandwidth/1e3)
		}
		fmt.Fprintf(&b, ", %.0f %% occupied by signals, %s\n", 100*s.Occupancy, wording.Count(len(s.Carriers), "carrier"))
		for _, c := range s.Carriers {
			fmt.Fprintf(&b, "    %14.4f kHz  %7s dBFS  SNR %6s dB in 9 kHz\n", c.Frequency/1e3, wording.Number(c.Level, 2), wording.Figure(c.SNR, 2))
		}
	}
	writeFindings(&b, r.Findings, r.Quality.Flags)
	_, err := io.WriteString(w, b.String())
	return err
}

// millions writes a sample rate as a person does.
func millions(rate float64) string {
	if rate < 1e6 {
		return strconv.FormatFloat(rate, 'f', -1, 64)
	}
	return strconv.FormatFloat(rate/1e6, 'f', -1, 64) + " million"
}
