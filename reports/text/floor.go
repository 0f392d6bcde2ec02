package text

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func floorTable(b *Sheet, f result.FloorTable, zone *time.Location) {
	if len(f.Rows) == 0 {
		b.WriteString("no floor was measured\n")
		return
	}
	b.Wrap("Floor, dBFS/Hz: a tenth of the readings lie under 10 %, half under 50 %, …", "", "")
	b.Wrap("Levels are referred to the gain beside them, one a segment, so that they compare; a row without one compares with no other.", "", "")
	var more []string
	room := b.setupRoom()
	if slices.ContainsFunc(f.Rows, func(r result.FloorRow) bool { return r.Margin != nil || r.DBmHz != nil }) {
		more, room = []string{"margin", "dBm/Hz"}, b.setupRoom()-10
		if slices.ContainsFunc(f.Rows, func(r result.FloorRow) bool { return r.Fa != nil }) {
			more, room = append(more, "Fa, dB"), room-6
			b.Wrap("Fa: the external noise figure by the plan's antenna factor, dB over kT0, of the dBm/Hz beside it.", "", "")
		}
		b.Wrap("Margin: how far the floor stands over the receiver's own noise, dB; amp.: over an amplifier's and the receiver's together, as its element was replaced once. dBm/Hz: half lie under it, at the antenna's terminals, as far as the plan tells cable loss and amplifier, that noise subtracted; ≤ where it hides the floor or is not known, and nothing is subtracted.", "", "")
	}
	for _, rows := range runs(f.Rows, func(a, b *result.FloorRow) bool { return a.Segment == b.Segment && a.Low == b.Low && a.High == b.High }) {
		b.WriteString("\n")
		b.Wrap(wording.Segment(rows[0].Segment, rows[0].Low, rows[0].High), "", "")
		t := NewTable(2, append([]string{"setup", "hour from", "readings", "10 %", "50 %", "90 %", "gain, dB"}, more...)...).Spare("readings", "margin")
		for _, r := range rows {
			q := r.DBFSHz
			row := []any{r.Setup.Short(room), r.From.In(zone).Format("2 Jan 15:04 MST"), r.Readings,
				wording.Number(q.P10, 1), wording.Number(q.P50, 1), wording.Number(q.P90, 1), wording.Figure(r.Gain, 1)}
			if more != nil {
				row = append(row, marginText(r), AtInput(r))
			}
			if len(more) > 2 {
				row = append(row, FigureText(r))
			}
			t.Row(row...)
		}
		b.Table(t)
		writeBudget(b, rows)
	}
}

// OverAmplifier tells whether a row's margin is over an amplifier's noise and the receiver's together.
func OverAmplifier(r result.FloorRow) bool {
	return r.MarginOver != nil && *r.MarginOver == survey.KindReplaced
}

// marginText writes a row's margin, and over what where that is not the receiver alone.
func marginText(r result.FloorRow) string {
	text := wording.Figure(r.Margin, 1)
	if OverAmplifier(r) {
		text = "amp. " + text
	}
	return text
}

// writeBudget says how well levels in dBm of a segment are known, by the row whose level is known worst.
func writeBudget(b *Sheet, rows []result.FloorRow) {
	rows = slices.DeleteFunc(slices.Clone(rows), func(r result.FloorRow) bool { return r.DBmBudget == nil })
	if len(rows) > 0 {
		worst := slices.MaxFunc(rows, func(a, b result.FloorRow) int { return cmp.Compare(*a.DBmSigma, *b.DBmSigma) })
		b.Wrap(fmt.Sprintf("dBm/Hz %s (95 %%); standard uncertainties: %s", Spread(worst), worst.DBmBudget), "  ", "    ")
	}
}

// Spread writes how well the level of a row in dBm is known, at 95 %.
func Spread(r result.FloorRow) string {
	return "± " + wording.Number(1.96*float64(*r.DBmSigma), 1) + " dB"
}

// FigureText writes the middle external noise figure of a row, to a dB, with ≤ where it is an upper bound.
func FigureText(r result.FloorRow) string {
	switch {
	case r.Fa == nil:
		return wording.None
	case r.DBmBound != nil && *r.DBmBound:
		return "≤ " + wording.Number(r.Fa.P50, 0)
	}
	return wording.Number(r.Fa.P50, 0)
}

// AtInput writes the middle floor of a row at the antenna's terminals, to a tenth of a dB
// where it is known to half a dB, with ≤ where it is an upper bound.
func AtInput(r result.FloorRow) string {
	if r.DBmHz == nil {
		return wording.None
	}
	places := 0
	if r.DBmSigma != nil && *r.DBmSigma <= 0.5 {
		places = 1
	}
	text := wording.Number(r.DBmHz.P50, places)
	if r.DBmBound != nil && *r.DBmBound {
		text = "≤ " + text
	}
	return text
}
