package calibration

import (
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A grid is a table with a row for each gain.
type grid struct {
	columns []string
	gains   []survey.DB
	cells   map[survey.DB]map[string]string
}

func newGrid() *grid { return &grid{cells: map[survey.DB]map[string]string{}} }

func (g *grid) put(gain survey.DB, column, cell string) {
	if g.cells[gain] == nil {
		g.gains, g.cells[gain] = append(g.gains, gain), map[string]string{}
	}
	if !slices.Contains(g.columns, column) {
		g.columns = append(g.columns, column)
	}
	g.cells[gain][column] = cell
}

func (g *grid) write(b *strings.Builder) {
	heading := []any{"gain, dB"}
	for _, c := range g.columns {
		heading = append(heading, wording.Printable(c))
	}
	t := text.NewTable(1, heading...)
	slices.Sort(g.gains)
	for _, gain := range g.gains {
		row := table.Row{wording.Number(float64(gain), 1)}
		for _, c := range g.columns {
			row = append(row, g.cells[gain][c])
		}
		t.AppendRow(row)
	}
	text.Render(b, t)
}
