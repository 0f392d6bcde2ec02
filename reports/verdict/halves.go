package verdict

import (
	"fmt"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// HalvesTable says what one change of the wiring at half time did in a segment: a row a setup of which something is
// known, without the columns of which nothing is.
type HalvesTable struct {
	Lead    string   // what was changed, and against which setup the figures stand
	Columns []string // what a change is of, dB
	Rows    []HalvesRow
	Notes   []string // of antennas whose feed lines were crossed: what is the antennas', what the lines'
}

// HalvesRow is one setup's: changes with their 95 % intervals.
type HalvesRow struct {
	Setup survey.Setup
	Cells []string
}

// Halves says what changes of the wiring at half time did in a segment, and what is to be known of all of them; nothing
// where nothing changed.
func Halves(s *result.RankSegment, reference survey.Setup) (tables []HalvesTable, caution string) {
	for i := range s.Halves {
		tables = append(tables, halvesTable(&s.Halves[i], reference))
	}
	if len(tables) == 0 {
		return nil, ""
	}
	caution = "In brackets the 95 % interval: one that holds 0 shows no difference. The halves are of other hours: what counts is the change against the reference. A setup's own floor changes with the hours, too"
	if len(s.Controls) > 0 {
		caution += "; a control's only as the receiver drifts and as its feed line picks up noise"
	}
	return tables, caution + "."
}

func halvesTable(h *result.Halves, reference survey.Setup) HalvesTable {
	part := survey.WiringParts[slices.IndexFunc(survey.WiringParts, func(p survey.WiringPart) bool { return p.Key == h.Changed })]
	t := HalvesTable{Lead: fmt.Sprintf("Half time: %s %s in %s, %s in %d. What that did, against %s:",
		part.Name, h.First, survey.Count(h.RoundsFirst, "round"), h.Second, h.RoundsSecond, name(reference))}
	columns := []struct {
		name string
		of   func(x *result.HalvesSetup) *result.Estimate
	}{
		{"advantage", func(x *result.HalvesSetup) *result.Estimate { return x.Advantage }},
		{"signal", func(x *result.HalvesSetup) *result.Estimate { return x.Signal }},
		{"floor", func(x *result.HalvesSetup) *result.Estimate { return x.Floor }},
		{"its own floor", func(x *result.HalvesSetup) *result.Estimate { return x.OwnFloor }},
	}
	known := make([]bool, len(h.Setups))
	rows := make([]HalvesRow, len(h.Setups))
	for _, column := range columns {
		some := slices.ContainsFunc(h.Setups, func(x result.HalvesSetup) bool { return column.of(&x) != nil })
		if some {
			t.Columns = append(t.Columns, column.name)
		}
		for i := range h.Setups {
			e := column.of(&h.Setups[i])
			if known[i] = known[i] || e != nil; some {
				rows[i].Cells = append(rows[i].Cells, estimate(e))
			}
		}
	}
	for i := range h.Setups {
		x := &h.Setups[i]
		if rows[i].Setup = x.Setup; x.Setup == reference && slices.Contains(t.Columns, columns[0].name) {
			rows[i].Cells[0] = "reference"
		}
		if known[i] {
			t.Rows = append(t.Rows, rows[i])
		}
		if x.Antennas != nil {
			t.Notes = append(t.Notes, fmt.Sprintf("%s: %s dB %s and %s dB %s make antennas %s dB; lines and ports %s dB.", name(x.Setup),
				wording.Signed(x.First.DB, 1), h.First, wording.Signed(x.Second.DB, 1), h.Second, estimate(x.Antennas), estimate(x.Lines)))
		}
	}
	return t
}

// estimate writes by what something changed, with its interval.
func estimate(e *result.Estimate) string {
	switch {
	case e == nil:
		return wording.None
	case e.Low == nil || e.High == nil:
		return "≈ " + wording.Signed(e.DB, 1)
	}
	return wording.Signed(e.DB, 1) + " (" + wording.Interval(e.Low, e.High, 1) + ")"
}
