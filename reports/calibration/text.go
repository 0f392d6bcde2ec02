package calibration

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"time"

	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/level"
)

// WriteText writes the calibration for a person to read, on a screen so many characters wide.
func (r Run) WriteText(w io.Writer, width int) error {
	b := text.Sheet{Width: width}
	if r.Simulated {
		b.Wrap("SIMULATED: made in the simulated house; it says nothing of any real receiver.", "", "")
		b.WriteString("\n")
	}
	switch r.Kind {
	case survey.CalibrateNoise:
		r.writeNoise(&b)
	case survey.CalibrateLevel:
		r.writeLevels(&b)
	case survey.CalibrateLinearity:
		r.writeLinearity(&b)
	case survey.CalibrateLines:
		r.writeLines(&b)
	case survey.CalibrateClock:
		r.writeClock(&b)
	}
	for _, d := range r.Doubts {
		b.Wrap(wording.Printable(d), "! ", "  ")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (r Run) writeNoise(b *text.Sheet) {
	b.WriteString("Own noise, dBFS/Hz, into a terminator\n\n")
	rows := map[survey.DB][]survey.MeasuredNoise{}
	for _, n := range r.SelfNoise {
		rows[n.Gain] = append(rows[n.Gain], n)
	}
	gains := slices.Sorted(maps.Keys(rows))
	var grid text.Grid[survey.DB, string]
	worst := survey.DB(0)
	for i := 0; i < len(gains); i++ {
		if n := alike(rows, gains[i:]); n > 1 {
			b.Wrap(fmt.Sprintf("%s to %s dB: under the converter's steps, %s", wording.Number(float64(gains[i]), 1), wording.Number(float64(gains[i+n-1]), 1),
				wording.Number(float64(rows[gains[i]][0].Density), 2)), "", "")
			i += n - 1
			continue
		}
		for _, n := range rows[gains[i]] {
			cell := wording.Number(float64(n.Density), 2)
			if n.Doubtful {
				cell += "*"
			} else {
				cell += " "
				worst = max(worst, n.Sigma)
			}
			grid.Put(n.Gain, n.Segment.Name, cell)
		}
	}
	grid.Write(b, "gain, dB", len(r.SelfNoise), gainText, wording.Printable)
	b.WriteString("\n")
	b.Wrap(fmt.Sprintf("standard error %s dB at the most; * too few codes moved, up to 2.5 dB", wording.Number(float64(worst), 2)), "", "")
	if len(r.Droop) > 0 {
		least := slices.MinFunc(r.Droop, func(a, c survey.Droop) int { return cmp.Compare(a.Response, c.Response) }).Response
		b.Wrap(fmt.Sprintf("passband measured: the filters take off up to %s dB, which is put back in what is recorded from now on", wording.Number(-float64(least), 1)), "", "")
	}
	r.writeFigures(b)
}

// alike gives how many of the gains, from the first on, show the same doubtful figure
// in every segment: that of the converter.
func alike(rows map[survey.DB][]survey.MeasuredNoise, gains []survey.DB) int {
	first := rows[gains[0]][0].Density
	for i, gain := range gains {
		if slices.ContainsFunc(rows[gain], func(n survey.MeasuredNoise) bool {
			return !n.Doubtful || math.Abs(float64(n.Density.Over(first))) >= 0.05
		}) {
			return i
		}
	}
	return len(gains)
}

func (r Run) writeLevels(b *text.Sheet) {
	if r.Levels[0].Basis == survey.BasisGenerator {
		r.writeSteps(b)
	} else {
		b.WriteString("Level of a tone at 0 dBFS, dBm at the receiver's input\n\n")
		var grid text.Grid[survey.DB, survey.Hz]
		for _, l := range r.Levels {
			grid.Put(l.Gain, l.Frequency, wording.Number(float64(l.FullScale), 1))
		}
		slices.Sort(grid.Rows)
		grid.Write(b, "gain, dB", len(r.Levels), gainText, survey.Hz.String)
	}
	b.WriteString("\n")
	r.writeBudget(b)
	for _, l := range r.LeftWords {
		b.Wrap("left out: "+wording.Printable(l), "", "  ")
	}
	r.writeFigures(b)
}

// writeBudget says how well full scale is known, at the gain at which it is known worst.
func (r Run) writeBudget(b *text.Sheet) {
	budget := level.Worst(r.Levels)
	b.Wrap(fmt.Sprintf("Full scale is known to %s dB (standard uncertainty): %s. Drift since now and distance in frequency come on top, where a report uses it.",
		wording.Number(float64(budget.Total()), 1), *budget), "", "")
}

// writeFigures shows the noise figures that own noise and levels imply.
func (r Run) writeFigures(b *text.Sheet) {
	if len(r.Figures) == 0 {
		return
	}
	b.WriteString("\nNoise figure that own noise and level imply, dB\n\n")
	grid := text.Grid[survey.DB, string]{Missing: wording.None}
	worst := survey.DB(0)
	for _, f := range r.Figures {
		grid.Put(f.Gain, f.Segment, wording.Number(float64(f.Figure), 1))
		worst = max(worst, f.Uncertainty)
	}
	slices.Sort(grid.Rows)
	grid.Write(b, "gain, dB", len(r.Figures), gainText, wording.Printable)
	b.WriteString("\n")
	b.Wrap(fmt.Sprintf("standard uncertainty %s dB at the most; a lower gain has a higher one", wording.Number(float64(worst), 1)), "", "")
}

// writeSteps shows levels by a generator, and the steps between gains.
func (r Run) writeSteps(b *text.Sheet) {
	at := r.Levels[0].Frequency.String()
	if r.FoundWords != "" {
		at += "; its carrier was " + r.FoundWords
	}
	b.Wrap(fmt.Sprintf("Level of a tone at 0 dBFS at the receiver's input, by a generator at %s; steps from the gain before", at), "", "")
	b.WriteString("\n")
	t := text.NewTable(1, "gain, dB", "full scale, dBm", "step by label, dB", "true step, dB", "standard error, dB")
	for i, l := range r.Levels {
		label, step := "–", "–"
		if i > 0 {
			before := r.Levels[i-1]
			byLabel, measured := l.Gain-before.Gain, survey.DB(before.FullScale-l.FullScale)
			label, step = wording.Signed(&byLabel, 1), wording.Signed(&measured, 2)
		}
		t.Row(gainText(l.Gain), wording.Number(float64(l.FullScale), 1), label, step, wording.Number(float64(l.Sigma), 2))
	}
	b.Table(t)
}

func (r Run) writeLinearity(b *text.Sheet) {
	fmt.Fprintf(b, "What an attenuator of %s dB takes off, dB\n\n", wording.Number(float64(r.Attenuation), 1))
	t := text.NewTable(1, "segment", "gain", "floor", "outside", "carriers", "of", "verdict")
	for _, l := range r.Linearity {
		t.Row(wording.Printable(l.Segment.Name), gainText(l.Gain), withError(l.FloorDrop, l.FloorSigma), withError(l.OutsideDrop, l.OutsideSigma),
			withError(l.CarrierDrop, l.CarrierSigma), l.Carriers, l.Verdict)
	}
	b.Table(t)
	b.WriteString("\n")
	b.Wrap("± standard error; outside: the floor without the receiver's own noise", "", "")
}

// withError writes a figure with its standard error.
func withError(x, sigma *survey.DB) string {
	if x == nil || sigma == nil {
		return wording.Figure(x, 1)
	}
	return wording.Number(float64(*x), 1) + " ± " + wording.Number(float64(*sigma), 1)
}

func (r Run) writeLines(b *text.Sheet) {
	if len(r.Lines) == 0 {
		b.WriteString("no line is there without an antenna\n")
		return
	}
	b.WriteString("Lines that are there without an antenna\n\n")
	t := text.NewTable(1, "frequency", "level, dBFS", "gain, dB")
	for _, l := range r.Lines {
		t.Row(l.Frequency.String(), wording.Number(float64(l.Level), 1), gainText(l.Gain))
	}
	b.Table(t)
}

func (r Run) writeClock(b *text.Sheet) {
	b.Wrap(fmt.Sprintf("clock error %s ± %s ppm (95 %%) beyond the plan's %s ppm, by %s", wording.Signed(new(survey.DB(r.Clock.PPM)), 2),
		wording.Number(2*r.Clock.Sigma, 2), wording.Number(r.PlanPPM, 2), survey.Count(r.Clock.Stations, "station")), "", "")
	fmt.Fprintf(b, "\nfor [receiver] in the plan:\nclock_error = \"%.2f ppm\"\n\n", r.NewPPM)
}

// gainText writes a gain at the head of a row.
func gainText(gain survey.DB) string { return wording.Number(float64(gain), 1) }

// ListText lists calibrations for a person to read, on a screen so many characters wide.
func ListText(all []survey.Calibration, zone *time.Location, width int) string {
	if len(all) == 0 {
		return "no calibration is stored\n"
	}
	b := text.Sheet{Width: width}
	for _, k := range all {
		b.Wrap(fmt.Sprintf("%s, %s, %s", k.Kind, k.At.In(zone).Format("2 Jan 2006 15:04 MST"), figuresText(k)), fmt.Sprintf("%d  ", k.ID), "   ")
		for _, line := range []string{"of " + wording.Receiver(k.Receiver), wording.Printable(k.Note)} {
			if line != "" {
				b.Wrap(line, "   ", "   ")
			}
		}
	}
	return b.String()
}

// figures counts what a calibration found.
func figures(k survey.Calibration) int {
	n := len(k.Noise) + len(k.Levels) + len(k.Lines) + len(k.Linearity)
	if k.Clock != nil {
		n++
	}
	return n
}

func figuresText(k survey.Calibration) string {
	switch n := figures(k); {
	case k.Kind == survey.CalibrateLines && n == 0:
		return "no line"
	case k.Kind == survey.CalibratePassband:
		return "removed but for its curve"
	case k.Clock != nil:
		return wording.Signed(new(survey.DB(k.Clock.PPM)), 2) + " ppm"
	default:
		return survey.Count(n, "figure")
	}
}
